"""The row-level difference to the release before."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.contract.descriptor import table_schema
from rigledger.release.differences import Previous, data_reasons, find_changes, open_previous
from rigledger.release.errors import ReleaseError
from rigledger.release.published import Published
from rigledger.release.version import Reason
from rigledger.tabular import create_tables, write_csv

if TYPE_CHECKING:
    from pathlib import Path

CONTRACT = load_contract()
CARDS = Published(CONTRACT.table("source", "cards"), "data")
RIGS = Published(CONTRACT.table("source", "rigs"), "data")
FAST = ("fast", "Velmar 90", "card", 16.0)
SLOW = ("slow", "Velmar 50", "card", 6.0)


def connection(*cards: tuple[Any, ...]) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    create_tables(con, [CARDS.table, RIGS.table])
    for card in cards:
        con.execute("INSERT INTO cards VALUES (?, ?, ?, ?)", list(card))
    return con


def earlier(folder: Path, *cards: tuple[Any, ...]) -> Previous:
    con = connection(*cards)
    (folder / "data").mkdir()
    write_csv(con, CARDS.table, folder / "data" / "cards.csv")
    held = {"name": "cards", "path": "data/cards.csv", "schema": table_schema(CARDS.table)}
    (folder / "datapackage.json").write_text(
        json.dumps({"version": "1.0.0", "resources": [held]}), encoding="utf-8"
    )
    (folder / "SHA256SUMS").write_text("", encoding="utf-8")
    return open_previous(folder)


def changes(con: duckdb.DuckDBPyConnection, previous: Previous | None) -> list[tuple[Any, ...]]:
    find_changes(con, CONTRACT, [CARDS], previous)
    return con.execute("FROM changes ORDER BY ALL").fetchall()


def test_without_an_earlier_release_every_row_is_added() -> None:
    assert changes(connection(FAST, SLOW), None) == [
        ("cards", "card=fast", "added", None, None, None, None),
        ("cards", "card=slow", "added", None, None, None, None),
    ]


def test_rows_are_added_removed_and_changed_by_key(tmp_path: Path) -> None:
    previous = earlier(tmp_path, FAST, SLOW)
    larger = ("fast", "Velmar 90", "card", 24.0)
    other = ("other", "Velmar 70", "card", None)
    assert changes(connection(larger, other), previous) == [
        ("cards", "card=fast", "changed", "memory_gb", "16.0", "24.0", None),
        ("cards", "card=other", "added", None, None, None, None),
        ("cards", "card=slow", "removed", None, None, None, None),
    ]


def test_a_blank_that_is_filled_is_a_change(tmp_path: Path) -> None:
    previous = earlier(tmp_path, ("fast", "Velmar 90", "card", None))
    assert changes(connection(FAST), previous) == [
        ("cards", "card=fast", "changed", "memory_gb", None, "16.0", None)
    ]


def test_equal_releases_differ_in_nothing(tmp_path: Path) -> None:
    assert changes(connection(FAST, SLOW), earlier(tmp_path, FAST, SLOW)) == []


def test_reasons_tell_values_references_and_rows_apart() -> None:
    con = duckdb.connect()
    create_tables(con, [CONTRACT.table("derived", "changes")])
    con.execute(
        """
        INSERT INTO changes VALUES
            ('cards', 'card=a', 'added', NULL, NULL, NULL, NULL),
            ('cards', 'card=b', 'added', NULL, NULL, NULL, NULL),
            ('cards', 'card=c', 'removed', NULL, NULL, NULL, NULL),
            ('cards', 'card=d', 'changed', 'memory_gb', '1.0', '2.0', NULL),
            ('rigs', 'rig=e', 'changed', 'card', 'c', 'd', NULL)
        """
    )
    assert data_reasons(con, [CARDS, RIGS]) == [
        Reason("minor", "2 rows of cards new"),
        Reason("patch", "1 row of cards with another memory_gb"),
        Reason("major", "1 row of cards gone"),
        Reason("minor", "1 row of rigs with another card"),
    ]


def test_an_earlier_release_that_cannot_be_read_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ReleaseError, match="can't be read"):
        open_previous(tmp_path)
