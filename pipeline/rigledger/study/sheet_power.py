"""What a smaller or larger matrix would cost in hours and in power.

A plan is judged on the geometric-mean change over its titles on each rig. On ln values, with
run-to-run spread s and session-to-session spread b of one level's mean, the variance of that
change over T titles and n runs a cell in R rounds is

    2 s^2 / (T n)  +  2 b^2 / R     (levels in sessions of their own)
    2 s^2 / (T n)                   (levels share their sessions, which cancel)

the nested random-effects variance of a difference of two means (Box, Hunter and Hunter, Statistics
for Experimenters, on nested designs; from memory). A session's own effect hits all its titles
alike, so more titles don't lessen it. Power is that of the two-sided 5 % normal test; spreads are
taken as known, so small plans come out somewhat too well.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

from rigledger.errors import StudyError
from rigledger.study.sheet import make_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rigledger.study.model import Design, PlannedRig
    from rigledger.study.sheet_model import Sheet

# Used where the study declares no spread and none was measured.
_USUAL_SPREAD_PCT = 1.0
SETTLES = 0.8


@dataclass(frozen=True, slots=True)
class Spread:
    """Spreads of a rig in per cent: run to run; session to session (0 where sessions cancel)."""

    run_pct: float
    session_pct: float


@dataclass(frozen=True, slots=True)
class Plan:
    """A variant of the matrix: how many titles, rounds, and runs of a cell over all rounds."""

    titles: int
    rounds: int
    runs: int


@dataclass(frozen=True, slots=True)
class PlanPower:
    """What one variant costs and shows.

    Attributes:
        plan: The variant.
        measured_runs: Runs that count.
        hours: Hours in all.
        power: Chance, per rig, that a change of the study's material size is shown.
    """

    plan: Plan
    measured_runs: int
    hours: float
    power: Mapping[str, float]

    @property
    def settles(self) -> int:
        """On how many rigs a material change is shown at least four times in five."""
        return sum(value >= SETTLES for value in self.power.values())


def usual_plan(design: Design) -> Plan:
    """Give the matrix as the study plans it."""
    titles = len(design.measured_workloads)
    return Plan(titles, design.rounds_planned, design.runs_required)


def smaller_plans(design: Design) -> list[Plan]:
    """Give the study's matrix, and it with fewer titles, one round or one run less."""
    whole = usual_plan(design)
    fewer = [replace(whole, titles=count) for count in range(whole.titles - 1, 0, -1)]
    less = [replace(whole, rounds=whole.rounds - 1), replace(whole, runs=whole.runs - 1)]
    return [whole, *fewer, *(plan for plan in less if 0 < plan.rounds <= plan.runs)]


def declared_spread(design: Design) -> Spread:
    """Give the spreads that study.toml declares, 1 % from run to run where it declares none."""
    between = 0.0 if design.levels_share_sessions else design.session_spread_pct or 0.0
    return Spread(design.spread_prior_pct or _USUAL_SPREAD_PCT, between)


def plan_power(
    design: Design,
    rigs: Sequence[PlannedRig],
    plans: Sequence[Plan],
    *,
    spreads: Mapping[str, Spread] | None = None,
) -> list[PlanPower]:
    """Judge variants of the matrix.

    Args:
        design: The study's design; its material change is what has to be shown.
        rigs: The rigs.
        plans: The variants.
        spreads: Measured spreads by rig; the declared one elsewhere.

    Returns:
        A row for each variant, in their order.

    Raises:
        StudyError: A variant has more titles than the study, or none of something.
    """
    held = spreads or {}
    usual = declared_spread(design)
    by_rig = {rig.rig: held.get(rig.rig, usual) for rig in rigs}
    return [_judged(design, rigs, plan, by_rig) for plan in plans]


def _judged(
    design: Design, rigs: Sequence[PlannedRig], plan: Plan, spreads: Mapping[str, Spread]
) -> PlanPower:
    sheet = _sheet(design, rigs, plan)
    delta = math.log1p(design.material_change_pct / 100)
    power = {rig: change_power(plan, spread, delta) for rig, spread in spreads.items()}
    return PlanPower(plan, int(sheet.counts["measured_runs"]), sheet.minutes / 60, power)


def _sheet(design: Design, rigs: Sequence[PlannedRig], plan: Plan) -> Sheet:
    titles = design.measured_workloads
    if not 0 < plan.titles <= len(titles) or not 0 < plan.rounds <= plan.runs:
        raise StudyError(
            f"a plan has 1 to {len(titles)} titles, and at least one round, with a run in each",
            value=str(plan),
        )
    kept = {held.workload for held in titles[: plan.titles]}
    parts = (
        replace(part, workloads=tuple(name for name in part.workloads or kept if name in kept))
        for part in design.plan
    )
    asked = tuple(part for part in parts if part.workloads)
    smaller = replace(design, plan=asked, rounds_planned=plan.rounds, runs_required=plan.runs)
    return make_sheet(smaller, rigs)


def change_power(plan: Plan, spread: Spread, change: float) -> float:
    """Give the chance that a change is shown, by the formula of this module.

    Args:
        plan: Titles, rounds and runs.
        spread: The rig's spreads.
        change: The true change of ln.
    """
    run, between = (math.log1p(value / 100) for value in (spread.run_pct, spread.session_pct))
    runs = plan.titles * plan.runs
    error = math.sqrt(2 * run**2 / runs + 2 * between**2 / plan.rounds)
    if error == 0:
        return 1.0
    normal = NormalDist()
    reach = normal.inv_cdf(0.975)
    shift = abs(change) / error
    return normal.cdf(shift - reach) + normal.cdf(-shift - reach)


def power_text(rows: Sequence[PlanPower], design: Design) -> str:
    """Say in a line for each variant what it costs and what it still shows."""
    size = f"a {design.material_change_pct:g} % change"
    lines = [
        f"{row.plan.titles} titles, {row.plan.runs} runs a cell in {row.plan.rounds} rounds: "
        f"{row.measured_runs} runs, {row.hours:.1f} h; {size} over titles is shown (power at "
        f"least {SETTLES:.0%}) on {row.settles} of {len(row.power)} rigs"
        for row in rows
    ]
    return "\n".join(lines) + "\n"
