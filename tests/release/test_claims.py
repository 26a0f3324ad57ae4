"""Claims in a release: published with verdicts, rebuilt, and never turned unseen."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.release.differences import open_previous
from rigledger.release.errors import ReleaseError
from rigledger.release.turned import refuse_turned

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.release.write import ReleaseResult

    Write = Callable[..., ReleaseResult]


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def test_claims_are_published_with_their_verdicts_but_not_what_names_hidden_hardware(
    published: ReleaseResult,
) -> None:
    held = rows(published.folder / "derived" / "claims.csv")
    assert [(row["claim"], row["verdict"], row["finding"]) for row in held] == [
        ("small-card-loses", "holds", "borne_out")
    ]
    assert "unannounced" not in (published.folder / "claims.toml").read_text(encoding="utf-8")


@pytest.mark.slow
def test_a_release_in_which_a_claim_turned_unseen_is_not_made(
    published: ReleaseResult, write: Write, tmp_path: Path
) -> None:
    claims = tmp_path / "claims.toml"
    text = (published.folder / "claims.toml").read_text(encoding="utf-8")
    claims.write_text(text.replace("12 % slower", "25 % slower"), encoding="utf-8")
    with pytest.raises(ReleaseError) as caught:
        write(claims=claims, previous=open_previous(published.folder))
    assert (caught.value.file, caught.value.value) == ("claims.toml", "small-card-loses")
    assert not (tmp_path / "releases").exists()


@pytest.fixture
def tables() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    con.execute(
        "CREATE TABLE claims (claim VARCHAR, sentence VARCHAR, verdict VARCHAR, because VARCHAR, "
        "acknowledged BOOLEAN)"
    )
    con.execute(
        'CREATE TABLE changes ("table" VARCHAR, key VARCHAR, change VARCHAR, field VARCHAR, '
        "was VARCHAR, becomes VARCHAR)"
    )
    con.execute("INSERT INTO claims VALUES ('a', 'A.', 'fails', 'it is 7 %', false)")
    return con


def turn(con: duckdb.DuckDBPyConnection, was: str, table: str = "claims") -> None:
    con.execute(
        "INSERT INTO changes VALUES (?, 'claim=a', 'changed', 'verdict', ?, 'fails')", [table, was]
    )


def test_a_claim_that_held_and_fails_is_refused_with_why(
    tables: duckdb.DuckDBPyConnection,
) -> None:
    turn(tables, "holds")
    with pytest.raises(ReleaseError) as caught:
        refuse_turned(tables)
    assert caught.value.message == (
        'the claim held in the release before and now is "fails": A. Because: it is 7 %'
    )


def test_a_claim_that_turned_is_published_as_failing_once_it_is_acknowledged(
    tables: duckdb.DuckDBPyConnection,
) -> None:
    turn(tables, "holds")
    tables.execute("UPDATE claims SET acknowledged = true")
    refuse_turned(tables)


def test_a_claim_that_never_held_is_no_reason_to_refuse(
    tables: duckdb.DuckDBPyConnection,
) -> None:
    refuse_turned(tables)
    turn(tables, "not_settled")
    turn(tables, "holds", table="comparisons")
    refuse_turned(tables)
