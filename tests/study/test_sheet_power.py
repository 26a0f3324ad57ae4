"""A smaller matrix costs power, and the sheet says how much."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigledger.errors import StudyError
from rigledger.study.sheet import make_sheet, rigs_of
from rigledger.study.sheet_power import (
    Plan,
    Spread,
    change_power,
    declared_spread,
    plan_power,
    power_text,
    smaller_plans,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.study.model import Design


def test_the_studys_own_plan_costs_what_its_sheet_says(design: Design) -> None:
    rigs = rigs_of(design)
    sheet = make_sheet(design, rigs)
    whole = plan_power(design, rigs, smaller_plans(design))[0]
    assert whole.measured_runs == sheet.counts["measured_runs"]
    assert whole.hours == pytest.approx(sheet.minutes / 60)


def test_each_smaller_plan_costs_less_and_shows_no_more(design: Design) -> None:
    plans = smaller_plans(design)
    assert plans == [Plan(2, 2, 3), Plan(1, 2, 3), Plan(2, 1, 3), Plan(2, 2, 2)]
    whole, *smaller = plan_power(design, rigs_of(design), plans)
    for row in smaller:
        assert row.hours < whole.hours
        assert all(row.power[rig] <= whole.power[rig] for rig in whole.power)


@pytest.mark.parametrize("shift", [0.0, 0.5, 1.0, 2.8, 5.0])
def test_power_agrees_with_a_general_purpose_library(shift: float) -> None:
    """statsmodels' normal_power: two-sided, effect in units of the standard error."""
    from statsmodels.stats.power import normal_power

    spread = Spread(100 * math.expm1(0.02), 0.0)
    plan = Plan(4, 2, 2)
    error = math.sqrt(2 * 0.02**2 / 8)
    expected = normal_power(shift, 1, 0.05, alternative="two-sided")
    assert change_power(plan, spread, shift * error) == pytest.approx(float(expected), abs=1e-12)


def test_power_agrees_with_simulated_measuring() -> None:
    """6,000 made-up weeks, with fixed seed; three standard errors of a share allowed."""
    plan, spread, change = Plan(3, 2, 4), Spread(2.0, 1.0), 0.03
    run, between = math.log(1.02), math.log(1.01)
    draw = np.random.default_rng(7)
    shape = (6000, 2, plan.rounds, plan.titles, plan.runs // plan.rounds)
    sessions = draw.normal(0, between, shape[:3])[..., None, None]
    values = draw.normal(0, run, shape) + sessions
    means = values.mean(axis=(2, 3, 4))
    error = math.sqrt(2 * run**2 / 12 + 2 * between**2 / 2)
    shown = np.abs(means[:, 1] - means[:, 0] + change) > 1.959964 * error
    power = change_power(plan, spread, change)
    assert shown.mean() == pytest.approx(power, abs=3 * math.sqrt(power * (1 - power) / 6000))


def test_more_titles_do_not_lessen_what_a_reboot_does() -> None:
    noisy = Spread(0.1, 2.0)
    few, many = (change_power(Plan(titles, 2, 4), noisy, 0.03) for titles in (2, 50))
    assert many - few < 0.01
    assert change_power(Plan(2, 6, 12), noisy, 0.03) > few + 0.2


def test_levels_that_share_sessions_owe_nothing_to_them(design: Design) -> None:
    declared = replace(design, session_spread_pct=0.6, spread_prior_pct=2.0)
    assert declared_spread(declared) == Spread(2.0, 0.6)
    assert declared_spread(replace(declared, levels_share_sessions=True)) == Spread(2.0, 0.0)


def test_measured_spreads_are_used_where_there_are_some(design: Design) -> None:
    rigs = rigs_of(design)
    spreads = {"p1-fast": Spread(20.0, 5.0)}
    (row,) = plan_power(design, rigs, [Plan(2, 2, 4)], spreads=spreads)
    assert row.power["p1-fast"] < 0.2
    assert row.power["p1-slow"] > 0.9
    assert row.settles == 1


def test_it_is_said_what_a_smaller_matrix_saves_and_still_settles(design: Design) -> None:
    rigs = rigs_of(design)
    spreads = {"p1-slow": ByTitle({"harbour-dawn": 9.0, "salt-road": 0.5})}
    rows = plan_power(design, rigs, [Plan(2, 2, 4), Plan(1, 2, 4), Plan(2, 1, 3)], spreads=spreads)
    assert power_text(rows, design, measured=True) == (
        "The plan: 48 runs, 3.6 h\n"
        "  a 3 % change over titles settles on 1 of 2 rigs\n"
        "1 title instead of 2 (without Harbour at Dawn): 24 runs, 2.8 h, 0.8 h less\n"
        "  a 3 % change still settles on 2 of 2 rigs\n"
        "1 round instead of 2, 3 runs instead of 4: 36 runs, 2.5 h, 1.1 h less\n"
        "  a 3 % change still settles on 1 of 2 rigs\n"
        "Settles: shown with a chance of at least 80 %, from the change over titles. "
        "Spread as measured so far.\n"
    )


@dataclass(frozen=True)
class ByTitle:
    """Spreads that differ from title to title."""

    runs: dict[str, float]

    def over(self, workloads: Iterable[str]) -> Spread:
        values = [self.runs[workload] for workload in workloads]
        return Spread(math.sqrt(sum(value**2 for value in values) / len(values)), 0.0)


@pytest.mark.parametrize("plan", [Plan(3, 2, 2), Plan(0, 2, 2), Plan(1, 0, 2), Plan(1, 2, 1)])
def test_a_plan_the_study_can_not_have_is_refused(design: Design, plan: Plan) -> None:
    with pytest.raises(StudyError, match="1 to 2 titles"):
        plan_power(design, rigs_of(design), [plan])
