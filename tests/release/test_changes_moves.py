"""What moved between two releases: current comparisons of any stack, and what a stack did."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigledger.contract import load_contract
from rigledger.legible import legible
from rigledger.release.causes import find_moves
from rigledger.release.changes_moves import moved_sections, turned_sections
from rigledger.release.changes_words import Section, markdown, plain, written
from rigledger.tabular import create_tables

CONTRACT = load_contract()
KEY = "rig=anna.p1 workload=dawn resolution=1920x1080 contrast=on-off metric=average_fps"
ROW = {
    "rig": "anna.p1", "workload": "dawn", "resolution": "1920x1080", "contrast": "on-off",
    "metric": "average_fps", "title_build": "1.4", "stack": "anna.stack-1", "current": True,
    "direction": "loss", "size": "material", "change_pct": -10.04,
}  # fmt: skip


def insert(con: duckdb.DuckDBPyConnection, table: str, row: dict[str, Any]) -> None:
    names = ", ".join(row)
    marks = ", ".join("?" for _ in row)
    con.execute(f"INSERT INTO {table} ({names}) VALUES ({marks})", list(row.values()))


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    names = ("changes", "comparisons", "stack_shift")
    create_tables(con, [CONTRACT.table("derived", name) for name in names])
    create_tables(con, [CONTRACT.table("source", name) for name in ("sessions", "stacks")])
    insert(con, "comparisons", ROW)
    con.execute("CREATE TABLE _comparisons_before AS SELECT columns(*)::varchar FROM comparisons")
    return con


def view(con: duckdb.DuckDBPyConnection) -> Any:  # noqa: ANN401 - as much of a view as is asked for
    def rows(query: str) -> list[dict[str, Any]]:
        cursor = con.execute(query)
        names = [column[0] for column in cursor.description or ()]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    return SimpleNamespace(rows=rows, has=lambda name: name == "stack_shift")


def test_a_current_comparison_is_followed_from_stack_to_stack(
    con: duckdb.DuckDBPyConnection,
) -> None:
    con.execute("UPDATE comparisons SET current = false")
    now = {"stack": "anna.stack-2", "direction": "not_shown", "size": "unsettled"}
    insert(con, "comparisons", ROW | now | {"change_pct": -2.0})
    find_moves(con)
    assert con.execute("FROM changes ORDER BY field").fetchall() == [
        ("current_comparisons", KEY, "changed", field, was, becomes, None)
        for field, was, becomes in (
            ("change_pct", "-10.0", "-2.0"),
            ("direction", "loss", "not_shown"),
            ("size", "material", "unsettled"),
            ("stack", "anna.stack-1", "anna.stack-2"),
        )
    ]
    line = (
        "anna.p1, dawn, 1920x1080, on-off, average\\_fps: -10.0 % before, -2.0 % now, on "
        "another stack: direction was loss, is not shown; size was material, is unsettled"
    )
    (told,) = turned_sections(view(con))
    assert told == Section("What is said otherwise now", (line,))
    assert written(told) == ["## What is said otherwise now", "", f"- {line}", ""]


def test_what_says_the_same_on_another_stack_is_counted(con: duckdb.DuckDBPyConnection) -> None:
    con.execute("UPDATE comparisons SET stack = 'anna.stack-2', change_pct = -9.0")
    find_moves(con)
    ((line,),) = [part.lines for part in turned_sections(view(con))]
    assert line == "1 more rest on another stack or build than before and say the same."


def test_nothing_is_listed_where_nothing_moved(con: duckdb.DuckDBPyConnection) -> None:
    find_moves(con)
    assert con.execute("FROM changes").fetchall() == []
    assert turned_sections(view(con)) == []


@pytest.mark.parametrize(
    ("moved", "said"), [(True, "."), (False, ", which these runs don't show to be a move.")]
)
def test_a_new_stack_is_told_with_what_moved_and_what_lies_furthest(
    con: duckdb.DuckDBPyConnection, *, moved: bool, said: str
) -> None:
    for number, driver in ((1, "1.0"), (2, "2.0")):
        insert(con, "stacks", {"stack": f"anna.stack-{number}", "driver_version": driver})
    session = {"session": "anna.p1.2", "rig": "anna.p1", "stack": "anna.stack-2"}
    insert(con, "sessions", session)
    con.execute(
        "INSERT INTO changes VALUES "
        "('sessions', 'session=anna.p1.2', 'added', NULL, NULL, NULL, NULL)"
    )
    shift = {
        "rig": "anna.p1", "workload": "dawn", "resolution": "1920x1080", "metric": "average_fps",
        "from_stack": "anna.stack-1", "to_stack": "anna.stack-2", "changed": "driver_version",
    }  # fmt: skip
    level = {"level": "on", "contrast": "none", "shift_pct": 1.0, "moved": False}
    effect = {
        "level": "effect", "contrast": "on-off", "shift_pct": 9.0, "moved": moved,
        "from_change_pct": -10.0, "to_change_pct": -2.0,
    }  # fmt: skip
    insert(con, "stack_shift", shift | level)
    insert(con, "stack_shift", shift | effect)
    effects = "1 of 1" if moved else "none of 1"
    ((line,),) = [part.lines for part in moved_sections(view(con))]
    assert line == (
        "anna.p1, average\\_fps, driver\\_version from 1.0 to 2.0: none of 1 frame rates moved, "
        f"and {effects} changes by the setting. Furthest from before: dawn, 1920x1080, on-off, "
        f"-10.0 % before, -2.0 % now{said}"
    )


def test_a_change_without_numbers_is_told_by_its_verdict(con: duckdb.DuckDBPyConnection) -> None:
    con.execute(
        f"INSERT INTO changes VALUES ('current_comparisons', '{KEY}', 'changed', 'no_verdict',"
        " 'one_run', NULL, NULL)"
    )
    ((line,),) = [part.lines for part in turned_sections(view(con))]
    assert line == (
        "anna.p1, dawn, 1920x1080, on-off, average\\_fps: no verdict was one run, is none"
    )


def test_a_direction_that_is_left_open_turns_nothing() -> None:
    assert markdown("\u202eab\u2066c") == "\ufffdab\ufffdc"


@given(st.text().map(legible))
def test_what_markdown_was_made_of_is_given_back_as_one_line(text: str) -> None:
    assert plain(markdown(text)) == " ".join(text.split())
