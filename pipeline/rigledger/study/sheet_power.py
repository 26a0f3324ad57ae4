"""What a smaller or larger matrix would cost in hours and in power.

A plan is judged on the geometric-mean change over its titles on each rig. On ln values, with
run-to-run spread s and session-to-session spread b of one level's mean, the variance of that
change over T titles and n runs a cell in R rounds is

    2 s^2 / (T n)  +  2 b^2 / R     (levels in sessions of their own)
    2 s^2 / (T n)                   (levels share their sessions, which cancel)

the nested random-effects variance of a difference of two means (Box, Hunter and Hunter, Statistics
for Experimenters, on nested designs; from memory). A session's own effect hits all its titles
alike, so more titles don't lessen it. Power is that of the two-sided 5 % normal test; spreads are
taken as known, so small plans come out somewhat too well. Where titles scatter differently, s^2 is
the mean of their squares, and a smaller plan leaves out those that scatter most.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING, Protocol

from rigledger.counting import counted
from rigledger.errors import StudyError
from rigledger.study.sheet import make_sheet

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

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

    def over(self, workloads: Iterable[str]) -> Spread:  # noqa: ARG002 - the same for all of them
        """Give the spread that counts for a mean over some workloads."""
        return self


class TitleSpread(Protocol):
    """A rig's spreads, which may differ from title to title."""

    def over(self, workloads: Iterable[str]) -> Spread:
        """Give the spread that counts for a mean over some workloads."""
        ...


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
        without: Titles that are left out: those whose runs scatter most, the most first.
    """

    plan: Plan
    measured_runs: int
    hours: float
    power: Mapping[str, float]
    without: tuple[str, ...] = ()

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
    spreads: Mapping[str, TitleSpread] | None = None,
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
    held: Mapping[str, TitleSpread] = spreads or {}
    usual = declared_spread(design)
    by_rig = {rig.rig: held.get(rig.rig, usual) for rig in rigs}
    order = _steadiest_first(design, by_rig)
    return [_judged(design, rigs, plan, by_rig, order) for plan in plans]


def _steadiest_first(design: Design, spreads: Mapping[str, TitleSpread]) -> list[str]:
    """Order the titles by how much their runs scatter over all rigs; ties as in study.toml."""
    names = [held.workload for held in design.measured_workloads]

    def scatter(name: str) -> float:
        return sum(held.over([name]).run_pct ** 2 for held in spreads.values())

    return sorted(names, key=scatter)


def _judged(
    design: Design,
    rigs: Sequence[PlannedRig],
    plan: Plan,
    spreads: Mapping[str, TitleSpread],
    order: Sequence[str],
) -> PlanPower:
    kept = order[: plan.titles]
    sheet = _sheet(design, rigs, plan, kept)
    delta = math.log1p(design.material_change_pct / 100)
    power = {rig: change_power(plan, held.over(kept), delta) for rig, held in spreads.items()}
    titles = tuple(design.workload(name).title for name in reversed(order[plan.titles :]))
    return PlanPower(plan, int(sheet.counts["measured_runs"]), sheet.minutes / 60, power, titles)


def _sheet(design: Design, rigs: Sequence[PlannedRig], plan: Plan, kept: Sequence[str]) -> Sheet:
    titles = design.measured_workloads
    if not 0 < plan.titles <= len(titles) or not 0 < plan.rounds <= plan.runs:
        raise StudyError(
            f"a plan has 1 to {len(titles)} titles, and at least one round, with a run in each",
            value=str(plan),
        )
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


def power_text(rows: Sequence[PlanPower], design: Design, *, measured: bool = False) -> str:
    """Say in a line for each variant what it costs and what it still shows.

    Args:
        rows: The variants, the study's own plan first.
        design: The study's design.
        measured: Whether the spreads were measured; else they are declared.
    """
    if not rows:
        return ""
    size = f"{design.material_change_pct:g} %"
    spread = "as measured so far" if measured else "as study.toml declares it"
    whole = rows[0]
    lines = [
        f"The plan: {_cost(whole)}",
        f"  a {size} change over titles settles on {_rigs(whole)}",
    ]
    for row in rows[1:]:
        without = f" (without {', '.join(row.without)})" if row.without else ""
        saved = whole.hours - row.hours
        lines.append(f"{_instead(row.plan, whole.plan)}{without}: {_cost(row)}, {saved:.1f} h less")
        lines.append(f"  a {size} change {'still ' if row.settles else ''}settles on {_rigs(row)}")
    lines.append(
        f"Settles: shown with a chance of at least {100 * SETTLES:.0f} %, from the change over "
        f"titles. Spread {spread}."
    )
    return "\n".join(lines) + "\n"


def _cost(row: PlanPower) -> str:
    return f"{counted(row.measured_runs, 'run')}, {row.hours:.1f} h"


def _rigs(row: PlanPower) -> str:
    return f"{row.settles or 'none'} of {len(row.power)} rigs"


def _instead(plan: Plan, whole: Plan) -> str:
    """Say in what a variant differs from the whole plan."""
    parts = [
        f"{counted(now, noun)} instead of {before}"
        for now, before, noun in (
            (plan.titles, whole.titles, "title"), (plan.rounds, whole.rounds, "round"),
            (plan.runs, whole.runs, "run"),
        )
        if now != before
    ]  # fmt: skip
    return ", ".join(parts)
