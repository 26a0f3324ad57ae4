"""Sets that are loaded before one more is admitted come to what they come to afterwards."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.database import connect
from rigledger.files import hashes_below
from rigledger.study.admit import AdmitResult, admit, withdraw
from rigledger.study.ahead import load_ahead
from rigledger.study.inputs import input_hashes
from rigledger.study.load import load_source
from rigledger.tables.build import DERIVED_TABLES
from rigledger.tables.kept import kept_study
from rigledger.tables.write import build_study

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.layout import StudyFolder

MakeSet = Callable[..., Path]
CORRECTION = """
[[corrections]]
correction = "c1"
session = "anna.p1-fast.b1"
action = "mark"
reason = "the room was warm"
decided_on = 2026-10-30
status = "applied"
"""


def rows_of(con: duckdb.DuckDBPyConnection, *names: str) -> dict[str, list[object]]:
    return {name: con.execute(f"from {name}").fetchall() for name in names}


def source_of(study: StudyFolder, contract: Contract) -> dict[str, list[object]]:
    with connect() as con:
        load_source(study, con)
        return rows_of(con, *(table.name for table in contract.group("source")))


@pytest.mark.parametrize("day", [28, 12])
def test_it_comes_to_the_same_whether_the_set_that_came_later_is_the_newer_one_or_not(
    *, study: StudyFolder, admitted: AdmitResult, second_set: MakeSet, contract: Contract, day: int
) -> None:
    assert admitted.admitted
    ahead = load_ahead(study)
    assert ahead is not None
    assert admit(study, second_set(), received_on=dt.date(2026, 10, day)).admitted
    begun = ahead.still_holds(input_hashes(study))
    assert begun is not None
    with begun.sets.con as con:
        load_source(study, con, begun=begun)
        names = [table.name for table in contract.group("source")]
        assert rows_of(con, *names) == source_of(study, contract)
        # Both state the same contributor; the newer set's words stand.
        shown = con.execute("select shown_name from contributors").fetchall()
        assert shown == [("Anna B." if day == 28 else "Anna",)]


def test_tables_are_built_of_it_and_are_those_of_a_study_loaded_at_once(
    study: StudyFolder, admitted: AdmitResult, second_set: MakeSet
) -> None:
    assert admitted.admitted
    ahead = load_ahead(study)
    assert ahead is not None
    assert admit(study, second_set(), received_on=dt.date(2026, 10, 28)).admitted
    built = kept_study(study, ahead=ahead)
    assert built.con is ahead.begun.sets.con
    with built.con, build_study(study).con as again:
        assert rows_of(built.con, *DERIVED_TABLES) == rows_of(again, *DERIVED_TABLES)


def test_nothing_is_written(study: StudyFolder, admitted: AdmitResult) -> None:
    assert admitted.admitted
    before = hashes_below(study.root)
    ahead = load_ahead(study)
    assert ahead is not None
    ahead.begun.sets.con.close()
    assert hashes_below(study.root) == before


def withdrawn(study: StudyFolder) -> None:
    withdraw(study, "anna.autumn-1", on=dt.date(2026, 11, 1), reason="asked for")


def corrected(study: StudyFolder) -> None:
    study.corrections.write_text(CORRECTION, encoding="utf-8")


def renamed(study: StudyFolder) -> None:
    text = study.toml.read_text(encoding="utf-8")
    study.toml.write_text(text.replace("Ostrel 8", "Ostrel 9"), encoding="utf-8")


def altered(study: StudyFolder) -> None:
    path = study.sets / "anna.autumn-1" / "runs.csv"
    path.write_bytes(path.read_bytes() + b"\n")


def added_to(study: StudyFolder) -> None:
    (study.sets / "anna.autumn-1" / "more.csv").write_bytes(b"")


@pytest.mark.parametrize("change", [withdrawn, corrected, renamed, altered, added_to])
def test_it_holds_no_longer_when_anything_but_a_further_set_has_changed(
    study: StudyFolder, admitted: AdmitResult, change: Callable[[StudyFolder], None]
) -> None:
    assert admitted.admitted
    ahead = load_ahead(study)
    assert ahead is not None
    change(study)
    assert ahead.still_holds(input_hashes(study)) is None


def missing(study: StudyFolder) -> None:
    (study.sets / "anna.autumn-1" / "runs.csv").unlink()


def misspelt(study: StudyFolder) -> None:
    study.toml.write_text("[study", encoding="utf-8")


@pytest.mark.parametrize("change", [missing, misspelt, altered])
def test_what_can_t_be_loaded_is_left_to_whoever_loads_it_in_earnest(
    study: StudyFolder, admitted: AdmitResult, change: Callable[[StudyFolder], None]
) -> None:
    assert admitted.admitted
    change(study)
    assert load_ahead(study) is None
