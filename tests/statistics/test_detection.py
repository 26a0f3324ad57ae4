"""The power that a re-test promises before it is run."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from scipy import stats

from rigledger.statistics.comparison_errors import SettingOutOfRangeError
from rigledger.statistics.comparisons import CellArrays, RunArrays, Settings, fit
from rigledger.statistics.detection import Retest, detection_power, power_at_spread
from rigledger.statistics.spread_data import sort_runs

if TYPE_CHECKING:
    from rigledger.statistics.pair_laws import Fitted

CELLS, OMEGA = 24, 0.01
LIMITS = np.array([0.05, 0.01, 0.002])
ALL = np.arange(CELLS)


def fitted(runs: int, spread: float = 0.01) -> Fitted:
    """Cells of six titles in one session each, their spread alike; sessions declared at 1 %."""
    rng = np.random.default_rng(20_261_126)
    cell = np.repeat(ALL, runs)
    arrays = RunArrays(
        value=100.0 * np.exp(spread * rng.standard_normal(len(cell))),
        cell=cell,
        session=np.zeros(len(cell), dtype=np.int64),
        round=np.zeros(len(cell), dtype=np.int64),
        pass_index=np.full(len(cell), -1),
        reported_step=np.zeros(len(cell)),
    )
    cells = CellArrays({"workload": ALL // 4}, np.zeros(CELLS, dtype=bool))
    return fit(sort_runs(arrays, CELLS), cells, Settings(session_spread_pct=100 * OMEGA))


def test_where_all_spreads_are_known_the_power_is_that_of_a_normal_test() -> None:
    """With 400 runs a cell nothing is left of run-to-run error: two boots make all of it."""
    retest = Retest(400, 1, 5.0)
    found = detection_power(fitted(400), ALL, retest, LIMITS)
    sd = np.sqrt(2.0 * OMEGA**2 + 2.0 * 0.01**2 / 400)
    needed = stats.norm.isf(LIMITS / 2) * sd
    shift = np.log1p(0.05)
    expected = stats.norm.sf((needed - shift) / sd) + stats.norm.cdf((-needed - shift) / sd)
    assert pytest.approx(np.tile(expected, (CELLS, 1)), abs=0.004) == found


def test_a_larger_shift_more_runs_and_a_looser_limit_are_seen_more_often() -> None:
    model = fitted(3)
    usual = Retest(3, 1, 5.0)
    powers = [
        detection_power(model, ALL, retest, LIMITS)
        for retest in (replace(usual, shift_pct=3.0), usual, replace(usual, sessions=2))
    ]
    assert np.all(np.diff(np.array(powers), axis=0) > 0)
    assert all(np.all(np.diff(power, axis=1) < 0) for power in powers)


def test_the_runs_of_other_cells_make_a_spread_better_known() -> None:
    """Three runs a cell leave spreads uncertain; re-testing all helps more than re-testing few."""
    model = fitted(3)
    few, every = (
        power_at_spread(model, np.array([1.0]), Retest(3, 1, 5.0, share), LIMITS)
        for share in (0.05, 1.0)
    )
    assert np.all(every > few)
    assert np.all(every < few + 0.1)


def test_a_class_is_promised_what_its_usual_cell_is() -> None:
    model = fitted(400, spread=0.02)
    retest = Retest(3, 1, 5.0)
    own = detection_power(model, ALL, retest, LIMITS).mean(axis=0)
    stated = power_at_spread(model, np.array([2.0]), retest, LIMITS)[0]
    assert pytest.approx(own, abs=0.01) == stated


@pytest.mark.parametrize(
    "retest",
    [Retest(0, 1, 5.0), Retest(3, 0, 5.0), Retest(3, 1, 5.0, 1.5), Retest(3, 1, 5.0, -0.1)],
)
def test_a_re_test_of_nothing_is_refused(retest: Retest) -> None:
    with pytest.raises(SettingOutOfRangeError):
        power_at_spread(fitted(3), np.array([1.0]), retest, LIMITS)
