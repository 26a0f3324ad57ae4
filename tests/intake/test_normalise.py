# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.intake.normalise import load_set
from rigledger.study.stacks import stack_id
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect() as opened:
        create_tables(opened, load_contract().group("source"))
        yield opened


def test_ids_carry_the_contributor_in_front(con, made, study):
    load_set(con, made.write(), study)
    assert con.execute("SELECT rig FROM rigs").fetchall() == [("anna.bench",)]
    assert con.execute("SELECT session, set_id FROM sessions ORDER BY session").fetchall() == [
        ("anna.bench.1", "anna.autumn-1"),
        ("anna.bench.2", "anna.autumn-1"),
    ]
    assert con.execute("SELECT min(run), max(run), count(*) FROM runs").fetchone() == (
        "anna.bench.1.001",
        "anna.bench.2.008",
        16,
    )


def test_a_stack_is_named_by_its_versions_and_not_by_its_dates(con, made, study):
    made.sessions[1]["driver_date"] = "2026-09-03"
    load_set(con, made.write(), study)
    versions = {name: made.sessions[0][name] for name in (
        "firmware_version", "driver_version", "card_firmware_version", "os", "os_build",
        "memory_speed_mts", "profile",
    )}  # fmt: skip
    wanted = stack_id("anna", versions, load_contract())
    assert con.execute("SELECT stack, driver_version FROM stacks").fetchall() == [
        (wanted, "551.10")
    ]


def test_times_are_brought_to_utc_by_the_offset_of_the_set_or_of_the_cell(con, made, study):
    made.sessions[0]["started_at"] = "2026-10-05T09:12:00"
    made.sessions[1]["started_at"] = "2026-10-05T09:12:00-02:00"
    load_set(con, made.write(), study)
    found = con.execute(
        "SELECT strftime(started_at, '%H:%M') FROM sessions ORDER BY session"
    ).fetchall()
    assert found == [("08:12",), ("11:12",)]


def test_the_position_follows_the_times_where_every_run_of_the_session_has_one(con, made, study):
    for number, run in enumerate(made.runs):
        run["started_at"] = f"2026-10-05T09:{30 - number:02}:00" if run["session"] == "1" else ""
    load_set(con, made.write(), study)
    by_run = dict(con.execute("SELECT run, position FROM runs").fetchall())
    assert (by_run["anna.bench.1.001"], by_run["anna.bench.1.006"]) == (8, 3)
    assert (by_run["anna.bench.2.001"], by_run["anna.bench.2.006"]) == (1, 6)


def test_the_step_of_a_column_is_that_of_its_finest_cell(con, made, study):
    made.runs[0]["average_fps"] = "141"
    made.runs[1]["low_1pct_rank_fps"] = "70.15"
    load_set(con, made.write(), study)
    found = con.execute(
        "SELECT DISTINCT metric, reported_step FROM measurements ORDER BY metric"
    ).fetchall()
    assert found == [("average_fps", 0.1), ("low_1pct_rank_fps", 0.01)]


def test_a_column_stated_in_milliseconds_becomes_frames_per_second_without_a_step(con, made, study):
    made.manifest += '\n[units]\naverage_fps = "ms"\n'
    for run in made.runs:
        run["average_fps"] = "8"
    load_set(con, made.write(), study)
    found = con.execute(
        "SELECT DISTINCT value, reported_step FROM measurements WHERE metric = 'average_fps'"
    ).fetchall()
    assert found == [(125.0, None)]


def test_facts_become_rows_with_their_unit(con, made, study):
    made.sessions[0]["power_limit_w"] = "320"
    made.sessions[1]["power_limit_w"] = ""
    load_set(con, made.write(), study)
    assert con.execute("FROM facts").fetchall() == [("anna.bench.1", "power_limit_w", "320", "W")]


def test_constants_of_the_set_fill_columns_that_the_file_leaves_out(con, made, study):
    made.manifest += (
        '\n[same_for_all_runs]\nlevel_state = "effective"\n'
        '[same_for_workload.harbour-dawn]\ntitle_build = "1.0.4"\n'
        '[same_for_workload.still-room]\ntitle_build = "2.1"\n'
    )
    for run in made.runs:
        del run["level_state"], run["title_build"]
    load_set(con, made.write(), study)
    found = con.execute(
        "SELECT DISTINCT level_state, workload, title_build FROM runs ORDER BY ALL"
    ).fetchall()
    assert found == [("effective", "harbour-dawn", "1.0.4"), ("effective", "still-room", "2.1")]


def test_nothing_of_the_reading_is_left_in_the_database(con, made, study):
    load_set(con, made.write(), study)
    found = con.execute(
        "SELECT DISTINCT schema_name FROM duckdb_tables() UNION SELECT DISTINCT schema_name FROM "
        "duckdb_views()"
        " WHERE NOT internal"
    ).fetchall()
    assert found == [("main",)]


def test_a_text_that_a_spreadsheet_would_run_gets_an_apostrophe_and_numbers_do_not(
    con, made, study
):
    made.runs[0]["level_check"] = "=HYPERLINK(1)"
    made.runs[1]["level_check"] = "-3.1"
    made.sessions[0]["overlay"] = "@SUM(A1)"
    made.sessions[1]["overlay"] = "none"
    load_set(con, made.write(), study)
    found = con.execute(
        "SELECT level_check FROM runs WHERE session = 'anna.bench.1' ORDER BY run LIMIT 2"
    )
    assert found.fetchall() == [("'=HYPERLINK(1)",), ("-3.1",)]
    assert con.execute("SELECT value FROM facts ORDER BY session").fetchall() == [
        ("'@SUM(A1)",),
        ("none",),
    ]
