"""Runs still needed, and what a planned sheet can show."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigledger.statistics.comparison_errors import SettingOutOfRangeError
from rigledger.statistics.inputs import Settings
from rigledger.statistics.outputs import NOT_REACHABLE
from rigledger.statistics.planning import still_needed
from rigledger.statistics.power import Planned, expected, runs_for_half_width
from rigledger.statistics.verdicts import ln_limits

LIMITS = ln_limits(3.0)


def needed(
    change: float, half: float, *, sessions: float = 1.0, by_sessions: bool = False
) -> tuple[int, int]:
    result = still_needed(
        np.array([change]),
        limits=LIMITS,
        half_widths=(np.array([half]), np.array([half])),
        counts=(np.array([3.0 * sessions]), np.array([sessions])),
        by_sessions=np.array([by_sessions]),
        settled=np.array([False]),
    )
    return int(result.runs[0]), int(result.sessions[0])


def test_halving_the_width_takes_four_times_the_runs() -> None:
    assert needed(0.0, 2 * LIMITS[1]) == (9, 0)


def test_where_sessions_limit_it_whole_sessions_are_asked_for() -> None:
    assert needed(0.0, 2 * LIMITS[1], sessions=2.0, by_sessions=True) == (18, 6)


def test_a_change_at_the_edge_is_out_of_reach() -> None:
    assert needed(LIMITS[1] + 1e-5, 0.01) == (NOT_REACHABLE, 0)


def test_what_is_settled_needs_nothing() -> None:
    zero = np.zeros(1)
    done = np.array([True])
    result = still_needed(
        zero,
        limits=LIMITS,
        half_widths=(zero + 1, zero + 1),
        counts=(zero + 3, zero + 1),
        by_sessions=~done,
        settled=done,
    )
    assert (result.runs[0], result.sessions[0]) == (0, 0)


def plan(count: int = 1, **changes: object) -> Planned:
    one = np.ones(count)
    base = Planned(
        ln_sd_mean=np.log(0.01) * one,
        ln_sd_sd=0.4 * one,
        runs=np.full(count, 3),
        sessions=np.full(count, 1),
        ln_session_mean=-np.inf * one,
        ln_session_sd=0 * one,
        ln_change=0.0 * one,
    )
    return replace(base, **changes)  # type: ignore[arg-type]


def test_more_runs_narrow_the_interval_as_the_square_root() -> None:
    half = expected(plan(2, runs=np.array([5, 20])), Settings()).half_width
    assert half[0] / half[1] == pytest.approx(2.0, rel=0.15)


def test_nothing_to_find_is_rarely_found_and_a_large_change_nearly_always() -> None:
    found = expected(plan(2, ln_change=np.array([0.0, 0.10])), Settings())
    assert found.shown[0] < 0.10
    assert found.shown[1] > 0.95
    assert found.material[1] > 0.9
    assert found.immaterial[1] == 0.0


def test_expected_width_agrees_with_simulated_studies() -> None:
    rng = np.random.default_rng(5)
    sd = np.exp(np.log(0.01) + 0.4 * rng.normal(size=(4000, 2)))
    se = np.sqrt((sd**2).sum(axis=1) / 3)
    half = expected(plan(), Settings()).half_width[0]
    # Between the interval of someone who knows both spreads, and Welch's with 4 df at the most.
    assert 1.96 * np.median(se) < half < 2.78 * np.median(se)


def test_a_session_component_limits_what_runs_can_do() -> None:
    sessions = plan(1, ln_session_mean=np.log([0.01]), ln_session_sd=np.array([0.3]))
    many = replace(sessions, runs=np.array([50]))
    assert expected(many, Settings()).half_width[0] > 1.9 * 0.01
    twice = replace(many, sessions=np.array([4]))
    assert expected(twice, Settings()).half_width[0] < 1.3 * 0.01


def test_runs_for_a_wanted_half_width_are_the_fewest() -> None:
    runs = runs_for_half_width(plan(3), np.array([0.03, 0.012, 1e-4]), Settings())
    assert runs[2] == NOT_REACHABLE
    for k, wanted in enumerate((0.03, 0.012)):
        enough = expected(plan(1, runs=runs[[k]]), Settings()).half_width[0]
        fewer = expected(plan(1, runs=runs[[k]] - 1), Settings()).half_width[0]
        assert enough <= wanted < fewer


def test_a_plan_without_runs_is_refused() -> None:
    with pytest.raises(SettingOutOfRangeError):
        expected(plan(1, runs=np.array([0])), Settings())
