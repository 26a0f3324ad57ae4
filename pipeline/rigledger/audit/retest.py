"""From a study, an announced change and a budget to a plan with its run sheets."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.audit.errors import BudgetError, NothingToRetestError
from rigledger.audit.frame import Frame, Study, read_frame
from rigledger.audit.plan import Asked, RetestPlan, candidate_limits, draws_within, make_plan
from rigledger.audit.plan_file import PlanRecord
from rigledger.audit.rows import rows
from rigledger.audit.sheet import last_boots, retest_sheet, rigs_of
from rigledger.audit.stale import rests
from rigledger.audit.targets import wanted_cells
from rigledger.statistics.detection import Retest

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.audit.change import Announced
    from rigledger.claims.model import Judged
    from rigledger.study.sheet_model import Sheet

_TRIES = 6
_AIM, _FULL = 0.97, 0.9


@dataclass(frozen=True, slots=True)
class Prepared:
    """A plan ready to be written.

    Attributes:
        record: The plan, with the study and the change it is for.
        frame: What it was drawn from.
        sheets: A run sheet for each contributor with cells in it.
    """

    record: PlanRecord
    frame: Frame
    sheets: tuple[tuple[str, Sheet], ...]

    @property
    def hours(self) -> float:
        """Hours of all sheets."""
        return sum(sheet.minutes for _, sheet in self.sheets) / 60


def prepare(
    study: Study,
    announced: Announced,
    asked: Asked,
    claims: Sequence[Judged],
    *,
    runs: int | None = None,
    hours: float | None = None,
) -> Prepared:
    """Plan the re-test of what a change touches.

    Args:
        study: A connection with the source and the derived tables.
        announced: The change.
        asked: What the plan is to do.
        claims: The study's claims as judged.
        runs: Measured runs that may be made; sentinels come on top.
        hours: Hours that all sheets may take, boots, swaps and sentinels included; the larger of
            the budgets that fit is taken.

    Raises:
        BudgetError: The budget doesn't reach for one cell.
        NothingToRetestError: No cell can be judged.
    """
    if runs is not None:
        return _prepared(study, announced, asked, claims, runs)
    assert hours is not None  # noqa: S101 - one of the two is given
    return _within_hours(study, announced, asked, claims, hours)


def _within_hours(
    study: Study, announced: Announced, asked: Asked, claims: Sequence[Judged], hours: float
) -> Prepared:
    """Go down from the whole frame, along the line through the last two tries."""
    touched = sum(rests(announced, row) for row in rows(study.con, "comparisons"))
    runs = max(2 * touched, 1) * asked.runs_per_cell
    best: Prepared | None = None
    tried: list[tuple[int, float]] = []
    for _ in range(_TRIES):
        made = _prepared(study, announced, asked, claims, runs)
        tried.append((made.record.plan.runs, made.hours))
        if made.hours <= hours and (best is None or made.hours > best.hours):
            best = made
        if best is not None and ((best is made and len(tried) == 1) or best.hours > _FULL * hours):
            break
        runs = _next_try(tried, hours, asked.runs_per_cell)
    if best is None:
        raise BudgetError(
            f"the smallest sheet tried takes {min(taken for _, taken in tried):.1f} h",
            column="--hours",
            value=f"{hours:g}",
            next_step="raise the hours, or name fewer rigs with --rig",
        )
    return best


def _next_try(tried: Sequence[tuple[int, float]], hours: float, per_cell: int) -> int:
    """Aim a little below the hours: boots and swaps cost the same however few cells are run."""
    (runs, taken), target = tried[-1], hours * _AIM
    guess = runs * target / taken
    if len(tried) > 1 and tried[-2][0] != runs:
        slope = (taken - tried[-2][1]) / (runs - tried[-2][0])
        guess = runs + (target - taken) / slope if slope > 0 else guess
    return max(int(guess) // per_cell, 1) * per_cell


def _prepared(
    study: Study, announced: Announced, asked: Asked, claims: Sequence[Judged], runs: int
) -> Prepared:
    seen = [row for row in rows(study.con, "comparisons") if rests(announced, row)]
    aims = bool(claims) or any(row["size"] == "material" for row in seen)
    draws, aimed = draws_within(runs, asked, targeted=aims)
    limits = candidate_limits(draws, asked.alarm_rate)
    per_session = -(-asked.runs_per_cell // asked.sessions)
    retest = Retest(per_session, asked.sessions, asked.shift_pct)
    frame = read_frame(study, announced, asked.metric, retest, limits, budget=draws + aimed)
    wanted = wanted_cells(frame.cells, seen, claims, asked.metric)
    plan = make_plan(frame, asked, draws, wanted, aimed)
    _refuse_blind(plan)
    record = PlanRecord(study.design.study, announced.change, plan)
    return Prepared(record, frame, _sheets(study, plan))


def _refuse_blind(plan: RetestPlan) -> None:
    if plan.carried:
        return
    asked = plan.asked
    best = max(held.power for held in plan.cells)
    raise NothingToRetestError(
        f"in none of the {len(plan.cells)} cells would a shift of {asked.shift_pct:g} % be seen "
        f"more often than missed (at best {100 * best:.0f} %): their spread, and what a boot alone "
        "changes, are too large",
        next_step="raise --runs-per-cell and --sessions, or look for a larger --shift",
    )


def _sheets(study: Study, plan: RetestPlan) -> tuple[tuple[str, Sheet], ...]:
    names = sorted({held.cell.contributor for held in plan.cells})
    made = (
        (
            name,
            retest_sheet(
                plan, study.design, rigs_of(study.con, name), name, last_boots(study.con, name)
            ),
        )
        for name in names
    )
    return tuple((name, sheet) for name, sheet in made if sheet.blocks)
