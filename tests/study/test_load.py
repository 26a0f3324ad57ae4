"""The source tables hold what was admitted, and nothing of what was taken out."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.contract.cells import SQL_TYPES
from rigledger.errors import StudyError
from rigledger.study.admit import AdmitResult, admit, withdraw
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.load import load_source
from rigledger.tabular import column_names

if TYPE_CHECKING:
    from rigledger.contract import Contract
    from rigledger.study.kit_model import Kit

MakeSet = Callable[..., Path]
_OF_BEA = """
[[corrections]]
correction = "c1"
session = "bea.p1-fast.b5"
action = "mark"
reason = "the room was warm"
decided_on = 2026-10-30
status = "applied"
"""


def _all_rows(con: duckdb.DuckDBPyConnection, contract: Contract) -> dict[str, list[object]]:
    return {
        table.name: con.execute(f"from {table.name}").fetchall()
        for table in contract.group("source")
    }


def test_every_source_table_is_there_typed_and_empty_ones_too(
    study: StudyFolder, con: duckdb.DuckDBPyConnection, contract: Contract
) -> None:
    load_source(study, con)
    for table in contract.group("source"):
        described = con.execute(f"describe {table.name}").fetchall()
        expected = [(field.name, SQL_TYPES[field.type]) for field in table.fields]
        assert [(row[0], row[1]) for row in described] == expected
        assert column_names(con, table.name) == table.field_names
    assert con.execute("select count(*) from runs").fetchone() == (0,)
    assert con.execute("select level from levels").fetchall() == [("x16",), ("x8",)]


def test_an_admitted_set_fills_them(
    study: StudyFolder, admitted: AdmitResult, con: duckdb.DuckDBPyConnection
) -> None:
    assert admitted.admitted
    load_source(study, con)
    counts = con.execute(
        "select (select count(*) from sessions), (select count(*) from runs),"
        " (select count(*) from measurements), (select count(*) from stacks)"
    ).fetchone()
    # 2 workloads x 2 resolutions x 2 levels x 2 passes x 2 rounds, and 2 sentinels in 4 sessions.
    assert counts == (4, 24 + 8, 2 * 32, 1)
    assert con.execute("select rig, platform, card, hardware_from from rigs").fetchall() == [
        ("anna.p1-fast", "p1", "fast", "bought")
    ]
    assert con.execute("select set_id, state, licence from sets").fetchall() == [
        ("anna.autumn-1", "admitted", "CC-BY-4.0")
    ]


def test_platforms_and_cards_are_as_the_study_states_them(
    study: StudyFolder, admitted: AdmitResult, con: duckdb.DuckDBPyConnection
) -> None:
    assert admitted.admitted
    load_source(study, con)
    assert con.execute("select platform, board from platforms").fetchall() == [("p1", "Pinnet B2")]
    cards = con.execute("select card, model from cards").fetchall()
    assert cards == [("fast", "Velmar 90"), ("slow", "Velmar 30")]


def test_rows_stand_in_the_order_of_their_key_and_loading_twice_gives_the_same(
    study: StudyFolder, admitted: AdmitResult, contract: Contract
) -> None:
    assert admitted.admitted
    loaded = []
    for threads in (1, 2):
        con = duckdb.connect()
        con.execute(f"set threads = {threads}")
        load_source(study, con)
        loaded.append(_all_rows(con, contract))
    assert loaded[0] == loaded[1]
    runs = [row[0] for row in loaded[0]["runs"]]  # type: ignore[index]
    assert runs == sorted(runs)


def test_a_withdrawn_set_leaves_no_more_than_its_tombstone_and_no_shown_name(
    study: StudyFolder, admitted: AdmitResult, con: duckdb.DuckDBPyConnection
) -> None:
    assert admitted.admitted
    withdraw(study, "anna.autumn-1", on=dt.date(2026, 11, 1), reason="asked for")
    load_source(study, con)
    counts = con.execute(
        "select (select count(*) from runs), (select count(*) from measurements),"
        " (select count(*) from rigs), (select count(*) from stacks)"
    ).fetchone()
    assert counts == (0, 0, 0, 0)
    assert con.execute("select set_id, state, reason from sets").fetchall() == [
        ("anna.autumn-1", "withdrawn", "asked for")
    ]
    assert con.execute("select contributor, shown_name from contributors").fetchall() == [
        ("anna", "anna")
    ]


def test_two_sets_share_rig_stack_and_contributor_and_the_newer_words_stand(
    *,
    study: StudyFolder,
    admitted: AdmitResult,
    second_set: MakeSet,
    con: duckdb.DuckDBPyConnection,
) -> None:
    assert admitted.admitted
    second = second_set()
    result = admit(study, second, received_on=dt.date(2026, 10, 28))
    assert result.admitted, result.check.findings
    load_source(study, con)
    assert con.execute("select count(*) from sessions").fetchone() == (8,)
    assert con.execute("select rig from rigs").fetchall() == [("anna.p1-fast",)]
    assert con.execute("select shown_name from contributors").fetchall() == [("Anna B.",)]
    assert con.execute("select driver_version, driver_date from stacks").fetchall() == [
        ("551.10", dt.date(2026, 9, 2))
    ]


def test_a_rig_whose_card_was_swapped_under_its_name_is_refused(
    *,
    study: StudyFolder,
    admitted: AdmitResult,
    second_set: MakeSet,
    con: duckdb.DuckDBPyConnection,
) -> None:
    assert admitted.admitted
    second = second_set(card="slow")
    result = admit(study, second, received_on=dt.date(2026, 10, 28))
    if result.admitted:
        with pytest.raises(StudyError, match="p1 with fast, p1 with slow"):
            load_source(study, con)
    else:
        assert {"rig", "card"} & {finding.column for finding in result.check.findings}


@pytest.mark.parametrize("harm", ["change", "add", "remove", "sums"])
def test_an_altered_set_is_named(
    study: StudyFolder, admitted: AdmitResult, con: duckdb.DuckDBPyConnection, harm: str
) -> None:
    assert admitted.admitted
    folder = study.set_folder("anna.autumn-1")
    runs = folder / "runs.csv"
    if harm == "change":
        runs.write_bytes(runs.read_bytes() + b"\n")
    elif harm == "add":
        (folder / "more.csv").write_bytes(b"a\n")
    elif harm == "remove":
        runs.unlink()
    else:
        (folder / "SHA256SUMS").write_bytes((folder / "SHA256SUMS").read_bytes() + b"\n")
    named = {"add": "more.csv", "sums": "SHA256SUMS"}.get(harm, "runs.csv")
    with pytest.raises(StudyError, match=f"was altered: {named}"):
        load_source(study, con)


def test_a_missing_set_is_named(
    study: StudyFolder, admitted: AdmitResult, con: duckdb.DuckDBPyConnection
) -> None:
    assert admitted.admitted
    (study.root / "sets").rename(study.root / "moved")
    with pytest.raises(StudyError, match=r"admitted set anna\.autumn-1 is missing"):
        load_source(study, con)


def test_a_folder_without_a_decision_is_not_part_of_the_study(
    study: StudyFolder, handed_in: Path, con: duckdb.DuckDBPyConnection
) -> None:
    study.sets.mkdir()
    handed_in.rename(study.set_folder("anna.autumn-1"))
    load_source(study, con)
    assert con.execute("select count(*) from runs").fetchone() == (0,)


def test_what_the_sheet_promises_is_what_the_study_holds_counted(
    study: StudyFolder, admitted: AdmitResult, fast_kit: Kit, con: duckdb.DuckDBPyConnection
) -> None:
    assert admitted.admitted
    load_source(study, con)
    query = (
        "select rig, boot, round, workload, resolution, level, role, pass"
        " from runs join sessions using (session) order by all"
    )
    promised = sorted(
        (
            f"anna.{held.rig}",
            held.boot,
            held.round,
            run.workload,
            run.resolution,
            run.level,
            run.role,
            run.pass_number,
        )
        for held in fast_kit.sheet.sessions
        for run in held.runs
    )
    assert con.execute(query).fetchall() == promised


def test_the_order_in_which_sets_came_in_leaves_no_trace(
    *,
    write_study: Callable[..., Path],
    handed_in: Path,
    second_set: MakeSet,
    contract: Contract,
    tmp_path: Path,
) -> None:
    second = second_set()
    loaded = []
    for order in ((handed_in, second), (second, handed_in)):
        study = open_study(write_study())
        for path in order:
            assert admit(study, path, received_on=dt.date(2026, 10, 20)).admitted
        with duckdb.connect() as con:
            load_source(study, con)
            loaded.append(_all_rows(con, contract))
        study.root.rename(tmp_path / f"study-{len(loaded)}")
    assert loaded[0] == loaded[1]


def test_one_contributor_s_sets_are_loaded_as_if_there_were_no_others(
    *,
    study: StudyFolder,
    admitted: AdmitResult,
    second_set: MakeSet,
    contract: Contract,
) -> None:
    assert admitted.admitted
    with duckdb.connect() as con:
        load_source(study, con)
        before = _all_rows(con, contract)
    second = second_set(contributor="bea")
    result = admit(study, second, received_on=dt.date(2026, 10, 28))
    assert result.admitted, result.check.findings
    study.corrections.write_text(_OF_BEA, encoding="utf-8")
    with duckdb.connect() as con:
        load_source(study, con, contributor="anna")
        assert _all_rows(con, contract) == before
        load_source(study, con)
        both = "select contributor from sets order by all"
        assert con.execute(both).fetchall() == [("anna",), ("bea",)]
        assert con.execute("select session from corrections").fetchall() == [("bea.p1-fast.b5",)]
