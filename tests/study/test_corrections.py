"""Corrections are declared, guarded by what was there, and edit nothing that was admitted."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

import pytest
import tomli_w

from rigledger.errors import StudyError
from rigledger.study.apply import apply_corrections
from rigledger.study.corrections import read_corrections
from rigledger.study.rows import insert_rows
from rigledger.study.stacks import stack_id
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import duckdb

    from rigledger.contract import Contract

    Apply = Callable[..., duckdb.DuckDBPyConnection]

SESSION = "anna.p1.3"
RUN = f"{SESSION}.017"
VERSIONS = {
    "firmware_version": "2.14",
    "driver_version": "551.10",
    "card_firmware_version": "none",
    "os": "desktop-os 11",
    "os_build": "26100.1",
    "memory_speed_mts": 6000,
    "profile": "default",
}
BASE = {
    "correction": "c1",
    "session": SESSION,
    "run": RUN,
    "reason": "decimal point misplaced",
    "decided_on": dt.date(2026, 10, 28),
    "status": "applied",
}
VALUE = BASE | {
    "action": "replace",
    "metric": "average_fps",
    "was": "14.27",
    "becomes": "142.7",
}


def _run_row(session: str, number: str, **other: Any) -> dict[str, Any]:  # noqa: ANN401
    row = {
        "run": f"{session}.{number}",
        "session": session,
        "workload": "harbour-dawn",
        "title_build": "1.0.4",
        "resolution": "1920x1080",
        "level": "x16",
        "level_state": "effective",
        "role": "measured",
        "reason": None,
        "pass": int(number) - 16,
        "position": int(number),
        "duration_s": 60.0,
    }
    return row | other


@pytest.fixture
def source(contract: Contract, con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    create_tables(con, contract.group("source"))
    stack = stack_id("anna", VERSIONS, contract)
    insert_rows(con, "stacks", [{"stack": stack, "contributor": "anna", **VERSIONS}])
    insert_rows(con, "levels", [{"level": "x16"}, {"level": "x8"}])
    insert_rows(con, "workloads", [{"workload": "harbour-dawn"}, {"workload": "salt-road"}])
    days = {"3": dt.date(2026, 10, 5), "4": dt.date(2026, 10, 6)}
    for boot, day in days.items():
        session = f"anna.p1.{boot}"
        row = {"session": session, "set_id": "anna.one", "rig": "anna.p1", "stack": stack}
        insert_rows(con, "sessions", [row | {"boot": int(boot), "round": 1, "started_on": day}])
        insert_rows(con, "runs", [_run_row(session, "017"), _run_row(session, "018")])
    values = [{"run": RUN, "metric": "average_fps", "origin": "reported", "value": 14.27}]
    insert_rows(con, "measurements", values)
    return con


@pytest.fixture
def apply(source: duckdb.DuckDBPyConnection, contract: Contract, tmp_path: Path) -> Apply:
    def applied(*entries: dict[str, Any]) -> duckdb.DuckDBPyConnection:
        path = tmp_path / "corrections.toml"
        path.write_text(tomli_w.dumps({"corrections": list(entries)}), encoding="utf-8")
        apply_corrections(source, read_corrections(path, contract), contract)
        return source

    return applied


def test_no_file_declares_no_corrections(tmp_path: Path) -> None:
    assert read_corrections(tmp_path / "corrections.toml") == ()


def test_a_value_is_replaced_and_the_correction_is_published(apply: Apply) -> None:
    con = apply(VALUE)
    assert con.execute("from measurements").fetchall() == [
        (RUN, "average_fps", "reported", 142.7, None, None)
    ]
    assert con.execute("select correction, field, was, becomes from corrections").fetchall() == [
        ("c1", "value", "14.27", "142.7")
    ]


def test_the_guard_compares_values_not_spellings(apply: Apply) -> None:
    con = apply(VALUE | {"was": "14.270"})
    assert con.execute("select value from measurements").fetchall() == [(142.7,)]


@pytest.mark.parametrize("status", ["proposed", "rejected"])
def test_what_is_not_in_force_is_published_and_changes_nothing(apply: Apply, status: str) -> None:
    con = apply(VALUE | {"status": status})
    assert con.execute("select value from measurements").fetchall() == [(14.27,)]
    assert con.execute("select status from corrections").fetchall() == [(status,)]


def test_a_mark_changes_nothing(apply: Apply) -> None:
    con = apply(BASE | {"action": "mark"})
    assert con.execute("select distinct role from runs").fetchall() == [("measured",)]


def test_an_excluded_run_keeps_its_row_with_the_reason(apply: Apply) -> None:
    con = apply(BASE | {"action": "exclude"})
    assert con.execute("select run, role, reason from runs order by run").fetchall() == [
        (RUN, "excluded", "excluded by correction c1: decimal point misplaced"),
        (f"{SESSION}.018", "measured", None),
        ("anna.p1.4.017", "measured", None),
        ("anna.p1.4.018", "measured", None),
    ]


def test_an_excluded_session_takes_its_runs_with_it(apply: Apply) -> None:
    entry = {key: value for key, value in BASE.items() if key != "run"}
    con = apply(entry | {"action": "exclude"})
    query = "select session, count(*) from runs where role = 'excluded' group by session"
    assert con.execute(query).fetchall() == [(SESSION, 2)]


def test_an_excluded_metric_loses_its_measurement_and_no_more(apply: Apply) -> None:
    con = apply(BASE | {"action": "exclude", "metric": "average_fps", "was": "14.27"})
    assert con.execute("select count(*) from measurements").fetchone() == (0,)
    assert con.execute("select count(*) from runs where role = 'measured'").fetchone() == (4,)


def test_a_run_is_relabelled(apply: Apply) -> None:
    con = apply(BASE | {"action": "relabel", "field": "level", "was": "x16", "becomes": "x8"})
    query = "select run, level from runs where level <> 'x16'"
    assert con.execute(query).fetchall() == [(RUN, "x8")]


def test_a_version_corrected_in_one_session_gives_that_session_another_stack(
    apply: Apply, contract: Contract
) -> None:
    entry = {key: value for key, value in BASE.items() if key != "run"}
    change = {"action": "relabel", "field": "driver_version", "was": "551.10", "becomes": "552.4"}
    con = apply(entry | change)
    other = stack_id("anna", VERSIONS | {"driver_version": "552.4"}, contract)
    assert con.execute("select session, stack from sessions order by session").fetchall() == [
        (SESSION, other),
        ("anna.p1.4", stack_id("anna", VERSIONS, contract)),
    ]
    query = "select driver_version, os_build from stacks order by driver_version"
    assert con.execute(query).fetchall() == [("551.10", "26100.1"), ("552.4", "26100.1")]


def test_a_stack_is_what_it_says_whatever_the_date(contract: Contract) -> None:
    dated = VERSIONS | {"driver_date": dt.date(2026, 9, 2)}
    assert stack_id("anna", dated, contract) == stack_id("anna", VERSIONS, contract)
    assert stack_id("ben", VERSIONS, contract) != stack_id("anna", VERSIONS, contract)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        (
            {"session": "anna.p1.9", "run": "anna.p1.9.017"},
            "matches nothing: no session 'anna.p1.9",
        ),
        ({"run": f"{SESSION}.099"}, "matches nothing: no run"),
        ({"metric": "low_1pct_rank_fps"}, "matches nothing"),
        ({"was": "14.3"}, "no longer fits: the value is '14.27', the correction expects '14.3'"),
        ({"becomes": "nan"}, "finite"),
        ({"becomes": "a lot"}, "isn't spelt"),
        ({"becomes": "1e400"}, "becomes"),
    ],
)
def test_a_correction_that_does_not_fit_the_data_refuses_loudly(
    apply: Apply, change: dict[str, Any], said: str
) -> None:
    with pytest.raises(StudyError) as raised:
        apply(VALUE | change)
    assert said in str(raised.value)
    assert raised.value.file == "corrections.toml"
    assert "c1" in raised.value.message


def test_a_label_must_be_one_of_the_studys(apply: Apply) -> None:
    change = {"action": "relabel", "field": "workload", "was": "harbour-dawn", "becomes": "sand"}
    with pytest.raises(StudyError, match="is not known"):
        apply(BASE | change)


def test_two_runs_may_not_become_the_same_pass(apply: Apply) -> None:
    with pytest.raises(StudyError, match=r"the same pass of one cell: .*017, .*018"):
        apply(BASE | {"action": "replace", "field": "pass", "was": "1", "becomes": "2"})


@pytest.mark.parametrize(
    ("change", "column", "said"),
    [
        ({"action": "repalce"}, "action", "did you mean 'replace'"),
        ({"becomes": "14.27"}, "becomes", "is what it was"),
        ({"run": "ben.p1.3.017"}, "run", "is no run of the session"),
        ({"metric": "average"}, "metric", "did you mean 'average_fps'"),
        ({"field": "level"}, "field", "no field that can be corrected"),
        ({"action": "relabel"}, "action", "a value is replaced"),
        ({"action": "exclude"}, "becomes", "changes no field"),
        ({"status": "done"}, "status", "not a word of the list"),
        ({"reson": "x"}, "reson", "did you mean 'reason'"),
    ],
)
def test_an_entry_that_can_not_be_meant_is_refused_at_its_key(
    apply: Apply, change: dict[str, Any], column: str, said: str
) -> None:
    with pytest.raises(StudyError) as raised:
        apply(VALUE | change)
    assert raised.value.column == f"corrections[1].{column}"
    assert said in str(raised.value)


def test_two_that_change_the_same_cell_conflict(apply: Apply) -> None:
    with pytest.raises(StudyError, match="conflicts with 'c1'"):
        apply(VALUE, VALUE | {"correction": "c2", "becomes": "143"})


def test_a_mark_conflicts_with_nothing(apply: Apply) -> None:
    con = apply(VALUE, BASE | {"correction": "c2", "action": "mark"})
    assert con.execute("select correction from corrections").fetchall() == [("c1",), ("c2",)]


def test_a_session_and_one_of_its_runs_conflict_over_a_field(apply: Apply) -> None:
    change = {"action": "relabel", "field": "title_build", "was": "1.0.4", "becomes": "1.0.5"}
    whole = {key: value for key, value in BASE.items() if key != "run"} | change
    with pytest.raises(StudyError, match="conflicts with 'c1'"):
        apply(whole, BASE | change | {"correction": "c2"})
