"""The dated line of a rig's stacks, from a few rows of the source tables."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.audit.errors import StackOrderError
from rigledger.audit.line import rig_lines
from rigledger.contract import load_contract
from rigledger.study.stacks import version_fields

if TYPE_CHECKING:
    from rigledger.audit.line import RigLine

CONTRACT = load_contract()
Boot = tuple[int, str, str]


def line(*boots: Boot, state: str = "admitted") -> tuple[RigLine, ...]:
    """Give the lines of one rig: boot, driver and day of each session."""
    con = duckdb.connect()
    fields = version_fields(CONTRACT)
    con.execute(f"create table stacks (stack text, {', '.join(f'{f} text' for f in fields)})")
    con.execute("create table sets as select 'anna.first' as set_id, ? as state", [state])
    con.execute(
        "create table sessions (session text, set_id text, rig text, stack text, boot bigint,"
        " started_on date)"
    )
    con.execute(
        "create table runs (session text, workload text, title_build text, role text,"
        " position bigint)"
    )
    for driver in dict.fromkeys(driver for _, driver, _ in boots):
        values = [driver if name == "driver_version" else "x" for name in fields]
        marks = ", ".join("?" * (len(fields) + 1))
        con.execute(f"insert into stacks values ({marks})", [f"anna.{driver}", *values])
    for boot, driver, day in boots:
        con.execute(
            "insert into sessions values (?, 'anna.first', 'anna.one', ?, ?, ?)",
            [f"anna.one.{boot}", f"anna.{driver}", boot, dt.date.fromisoformat(day)],
        )
        con.execute(
            "insert into runs values (?, 'dawn', ?, 'measured', 1)",
            [f"anna.one.{boot}", f"build {driver}"],
        )
    return rig_lines(con, CONTRACT)


def test_a_rigs_stacks_stand_in_the_order_of_their_first_boot_with_their_days() -> None:
    (held,) = line((1, "1.0", "2026-10-05"), (2, "1.0", "2026-10-06"), (3, "2.0", "2026-10-09"))
    day = dt.date.fromisoformat
    assert [
        ("anna.1.0", day("2026-10-05"), day("2026-10-06"), 2, 2),
        ("anna.2.0", day("2026-10-09"), day("2026-10-09"), 3, 1),
    ] == [(s.stack, s.since, s.until, s.last_boot, s.sessions) for s in held.stacks]
    assert ("anna.2.0", "build 2.0") == (
        held.current.stack, getattr(held.current_build("dawn"), "title_build", None)
    )  # fmt: skip
    assert held.current_build("mist") is None


def test_after_going_back_the_older_stack_is_current_again() -> None:
    (held,) = line((1, "1.0", "2026-10-05"), (2, "2.0", "2026-10-06"), (3, "1.0", "2026-10-07"))
    assert ("anna.1.0", ["anna.1.0", "anna.2.0"]) == (
        held.current.stack, [one.stack for one in held.stacks]
    )  # fmt: skip


def test_a_stack_dated_before_its_predecessor_is_refused_by_session_and_day() -> None:
    with pytest.raises(StackOrderError) as caught:
        line((1, "1.0", "2026-10-05"), (2, "2.0", "2026-10-01"))
    assert ("audit_stack_before_predecessor", "started_on", "2026-10-01") == (
        caught.value.code, caught.value.column, caught.value.value
    )  # fmt: skip
    assert "session anna.one.2 is on another stack" in str(caught.value)
    assert "corrections.toml" in str(caught.value.next_step)


def test_sets_that_are_not_in_force_have_no_line() -> None:
    assert () == line((1, "1.0", "2026-10-05"), state="withdrawn")
