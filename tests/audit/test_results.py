"""Results of a plan, from a few rows of stack_shift."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, cast

import duckdb
import pytest

from rigledger.audit.change import Change
from rigledger.audit.errors import OtherPlanError
from rigledger.audit.frame import FrameCell, Study
from rigledger.audit.plan import NOT_DRAWN, RANDOM, TARGETED, Asked, PlannedCell, RetestPlan
from rigledger.audit.plan_file import PlanRecord
from rigledger.audit.results import audit_results

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from rigledger.audit.results import AuditResult

OLD, NEW = "anna.stack-1", "anna.stack-2"
CHANGE = Change((("driver_version", "2.0"),), (), dt.date(2026, 10, 20))
ASKED = Asked("average_fps", 3, 1, "seed", tolerated_pct=50.0)
PARTS = {"dawn": RANDOM, "mist": RANDOM, "rain": NOT_DRAWN, "tide": TARGETED}
Shift = tuple[str, float, float | None, str | None]


def cell(title: str) -> PlannedCell:
    held = FrameCell("anna", "anna.one", title, "1920x1080", "x16", OLD, "1", 3, 0.5, (1.0,))
    return PlannedCell(held, 1.0, "all", PARTS[title])


RECORD = PlanRecord(
    "link-width",
    CHANGE,
    RetestPlan(ASKED, tuple(map(cell, PARTS)), 0.01, 0, (0.9, 0.5, 0.1), 1, can_stand=True),
)


@pytest.fixture
def audited() -> Callable[..., AuditResult]:
    """Give the results of a plan, for rows of title, shift, p and why there is no verdict."""

    def audit(
        *shifts: Shift, record: PlanRecord = RECORD, way: tuple[str, str] = (OLD, NEW),
        changed: str = "driver_version", ways: Mapping[str, str] | None = None,
    ) -> AuditResult:  # fmt: skip
        con = duckdb.connect()
        con.execute(
            "create table stacks as select * from (values ('anna.stack-1', '1.0', 'F1'),"
            " ('anna.stack-2', '2.0', 'F1'), ('anna.stack-3', '2.O', 'F1'))"
            " as t(stack, driver_version, firmware_version)"
        )
        con.execute(
            "create table stack_shift (rig text, workload text, resolution text, level text,"
            " contrast text, metric text, from_stack text, to_stack text, from_build text,"
            " to_build text, changed text, from_change_pct double, to_change_pct double,"
            " shift_pct double, low_95_pct double, high_95_pct double, p double, q double,"
            " moved boolean, no_verdict text, confounded_by text)"
        )
        for title, shift, p, why in shifts:
            con.execute(
                "insert into stack_shift values ('anna.one', ?, '1920x1080', 'x16', 'none',"
                " 'average_fps', ?, ?, '1', '1', ?, null, null, ?, ?, ?, ?, ?, false, ?, null)",
                [
                    title,
                    way[0],
                    (ways or {}).get(title, way[1]),
                    changed,
                    shift,
                    shift - 1,
                    shift + 1,
                    p,
                    p,
                    why,
                ],
            )
        design = SimpleNamespace(study="link-width")
        return audit_results(cast("Study", SimpleNamespace(con=con, design=design)), record)

    return audit


def test_only_the_random_part_carries_the_bound(audited: Callable[..., AuditResult]) -> None:
    found = audited(("dawn", 0.2, 0.6, None), ("mist", 0.1, 0.7, None), ("tide", -9.0, 1e-6, None))
    assert [("dawn", False), ("mist", False), ("tide", True)] == [
        (one.planned.cell.workload, one.seen) for one in found.cells
    ]
    bound = found.decision.bound
    assert (4, 2, 0, 2) == (bound.cells, bound.tested, bound.moved, bound.at_most)


def test_a_cell_without_a_verdict_counts_as_not_tested(audited: Callable[..., AuditResult]) -> None:
    found = audited(("dawn", 0.2, 0.6, None), ("mist", -9.0, None, "confounded"))
    assert (1, 0) == (found.decision.bound.tested, found.decision.bound.moved)
    assert [None, "no verdict: confounded", "not measured"] == [one.untold for one in found.cells]


def test_going_back_to_a_driver_is_turned_round(audited: Callable[..., AuditResult]) -> None:
    """Table rows lead from the older stack to the newer; the audit asks the other way."""
    back = replace(RECORD, change=Change((("driver_version", "1.0"),), (), CHANGE.since))
    cells = tuple(replace(held, cell=replace(held.cell, stack=NEW)) for held in back.plan.cells)
    back = replace(back, plan=replace(back.plan, cells=cells))
    found = audited(("dawn", 25.0, 1e-5, None), record=back)
    dawn = found.cells[0]
    assert pytest.approx((-20.0, -20.6349, -19.3548), abs=1e-3) == (
        dawn.shift_pct, dawn.low_95_pct, dawn.high_95_pct
    )  # fmt: skip
    assert dawn.seen


def test_what_changed_beside_the_driver_is_named(audited: Callable[..., AuditResult]) -> None:
    found = audited(("dawn", 0.1, 0.9, None), changed="driver_version, title_build")
    assert [("title_build",), (), ()] == [one.also_changed for one in found.cells]


def test_rows_of_another_driver_are_not_taken(audited: Callable[..., AuditResult]) -> None:
    other = replace(RECORD, change=Change((("driver_version", "3.0"),), (), CHANGE.since))
    with pytest.raises(OtherPlanError, match="none of its cells was measured"):
        audited(("dawn", 0.2, 0.6, None), record=other)


def test_a_cell_measured_on_yet_another_version_says_which(
    audited: Callable[..., AuditResult],
) -> None:
    """A mistyped version is the usual reason."""
    found = audited(
        ("dawn", 0.2, 0.6, None), ("mist", 0.1, 0.7, None), ways={"mist": "anna.stack-3"}
    )
    assert [None, "measured with driver_version 2.O instead", "not measured"] == [
        one.untold for one in found.cells
    ]


def test_a_plan_of_another_study_is_refused(audited: Callable[..., AuditResult]) -> None:
    with pytest.raises(OtherPlanError, match="the plan is of the study lanes, not of link-width"):
        audited(("dawn", 0.2, 0.6, None), record=replace(RECORD, study="lanes"))
