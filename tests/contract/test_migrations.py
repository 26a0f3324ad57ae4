"""Versions of the contract form one chain; its steps are applied in order, in memory."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from rigledger.contract.migrations import (
    ContractVersion,
    History,
    Migration,
    NewerContractError,
    Place,
    UnknownContractError,
    carry_over_sql,
    load_history,
)
from rigledger.contract.model import Field
from rigledger.errors import ContractError

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract import Contract

HASH = "0" * 64
TWO = f"""
[[versions]]
version = "1.0.0"
schema_sha256 = "{HASH}"
[[versions]]
version = "2.0.0"
[[migrations]]
name = "more-words"
from = "1.0.0"
to = "2.0.0"
changes = "Words."
because = "Needed."
carried_over = "Nothing."
tightened = ["handed_in/runs.role"]
"""


def step(name: str, before: str, after: str, **further: object) -> Migration:
    return Migration(name, before, after, "Changes.", "Because.", "Blank.", **further)


HISTORY = History(
    (ContractVersion("1.0.0", HASH), ContractVersion("1.1.0", HASH), ContractVersion("2.0.0")),
    (
        step("second", "1.1.0", "2.0.0"),
        step("first", "1.0.0", "1.1.0"),
        step("third", "1.1.0", "2.0.0"),
    ),
)


@pytest.mark.parametrize(
    ("since", "names"),
    [("1.0.0", ["first", "second", "third"]), ("1.1.0", ["second", "third"]), ("2.0.0", [])],
)
def test_steps_are_taken_in_the_order_of_the_versions(since: str, names: list[str]) -> None:
    assert [held.name for held in HISTORY.since(since)] == names


@pytest.mark.parametrize("version", ["2.0.1", "2.1.0", "10.0.0"])
def test_a_newer_version_is_refused_with_a_stable_code_and_a_next_step(version: str) -> None:
    with pytest.raises(NewerContractError) as caught:
        HISTORY.since(version)
    held = caught.value
    assert (held.code, held.value) == ("newer_contract", version)
    assert held.next_step == "install a newer version of rigledger"
    assert held.message == (
        f"was written by version {version} of the contract; this program knows 2.0.0"
    )


@pytest.mark.parametrize("version", ["1.0.1", "0.9.0", "2", "2.0.0-rc1", "02.0.0", ""])
def test_a_version_that_was_never_published_is_not_known(version: str) -> None:
    with pytest.raises(UnknownContractError) as caught:
        HISTORY.since(version)
    assert (caught.value.code, caught.value.value) == ("unknown_contract", version)


def history_of(folder: Path, text: str) -> History:
    (folder / "migrations.toml").write_text(text, encoding="utf-8")
    return load_history(folder)


def test_a_history_is_read(tmp_path: Path) -> None:
    held = history_of(tmp_path, TWO)
    assert held.versions == (ContractVersion("1.0.0", HASH), ContractVersion("2.0.0"))
    assert held.since("1.0.0") == (
        Migration(
            "more-words", "1.0.0", "2.0.0", "Words.", "Needed.", "Nothing.",
            tightened=(Place("handed_in", "runs", "role"),),
        ),
    )  # fmt: skip


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ("[[versions]]", "[[version]]", "can't be read"),
        ('version = "2.0.0"', 'version = "0.9.0"', "oldest first"),
        ('version = "2.0.0"', 'version = "1.0.0"', "once each"),
        (f'schema_sha256 = "{HASH}"', "", "version 1.0.0 lacks the hash of its files"),
        ('to = "2.0.0"', 'to = "3.0.0"', "migration more-words leads from no version to the next"),
        ('from = "1.0.0"', "", "can't be read"),
        ('because = "Needed."', 'becaus = "Needed."', "can't be read"),
        ("handed_in/runs.role", "handed/runs.role", "names no place of the contract"),
        (
            'version = "2.0.0"',
            'version = "2.0.0"\nnothing_to_carry_over = "No."',
            "version 2.0.0 has a migration, or says why there is none to it",
        ),
        (TWO[TWO.index("[[migrations]]") :], "migrations = []", "version 2.0.0 has a migration"),
    ],
)
def test_a_broken_history_is_refused(tmp_path: Path, old: str, new: str, message: str) -> None:
    assert old in TWO
    text = TWO.replace(old, new)
    text = f"migrations = []\n{text.replace(new, '')}" if new == "migrations = []" else text
    with pytest.raises(ContractError, match=message):
        history_of(tmp_path, text)


def test_two_steps_add_rename_and_drop_columns_and_add_a_table(
    contract: Contract, con: duckdb.DuckDBPyConnection
) -> None:
    """cards: ``memory_gb`` was ``memory_mb`` once, and had a ``maker``; ``facts`` is newer."""
    memory = Place("source", "cards", "memory_gb")
    steps = (
        step(
            "gigabytes", "1.0.0", "2.0.0",
            columns=((memory, "memory_mb / 1024"),),
            gone_columns=(Place("source", "cards", "memory_mb"),),
        ),
        step(
            "makers-gone", "2.0.0", "3.0.0",
            columns=((Place("source", "cards", "colour"), None),),
            gone_columns=(Place("source", "cards", "maker"),),
            new_tables=(Place("source", "facts"), Place("derived", "cells")),
        ),
    )  # fmt: skip
    cards = contract.table("source", "cards")
    colour = Field("colour", "Colour", "Its colour.", "string")
    now = replace(
        contract, tables={**contract.tables, ("source", "cards"): cards.with_fields((colour,))}
    )
    con.execute(
        "create table cards as select * from (values ('Tindle', 8192, 'Velmar 90', 'velmar-90', "
        "'card'), ('Tindle', null, 'Velmar 50', 'velmar-50', 'card')) "
        "as t(maker, memory_mb, model, card, class)"
    )
    for statement in carry_over_sql(steps, now, ["cards"]):
        con.execute(statement)
    found = con.execute("from cards")
    assert [column[0] for column in found.description] == [*cards.field_names, "colour"]
    assert [dict(zip(("card", "gb", "colour"), row, strict=True)) for row in con.execute(
        "select card, memory_gb, colour from cards"
    ).fetchall()] == [
        {"card": "velmar-90", "gb": 8.0, "colour": None},
        {"card": "velmar-50", "gb": None, "colour": None},
    ]  # fmt: skip
    facts = con.execute("from facts")
    assert (
        tuple(column[0] for column in facts.description) == now.table("source", "facts").field_names
    )
    assert facts.fetchall() == []


def test_tables_that_no_step_touches_stay(contract: Contract) -> None:
    assert carry_over_sql(HISTORY.since("1.0.0"), contract, ["cards", "runs"]) == []
