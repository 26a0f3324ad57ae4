from __future__ import annotations

from itertools import permutations, product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.statistics.drift import NoRepeatedCellError, drift, warm_up, within_cells
from rigledger.statistics.errors import OutOfRangeError, ShapeError

CELLS, RUNS = 12, 4
CELL = np.tile(np.arange(CELLS), RUNS)
TURN = np.repeat(np.arange(RUNS), CELLS)
ORDER = np.arange(CELL.size)
SEEDS = st.integers(0, 10_000)


def still(seed: int) -> np.ndarray:
    return np.random.default_rng(seed).normal(4.0, 0.005, CELL.size) + CELL


def test_a_slow_first_pass_is_a_warm_up_and_is_measured() -> None:
    found = warm_up(still(1) - 0.03 * (TURN == 0), CELL, ORDER)
    assert found.flag
    assert found.low_pct < 100 * np.expm1(-0.03) < found.high_pct
    assert (found.cells, found.runs) == (CELLS, CELL.size)


def test_a_fast_first_pass_is_no_warm_up_unless_lower_is_better() -> None:
    values = still(1) + 0.03 * (TURN == 0)
    assert not warm_up(values, CELL, ORDER).flag
    assert warm_up(values, CELL, ORDER, higher_is_better=False).flag


def test_a_rig_that_heats_up_drifts_and_the_drift_is_measured_over_the_session() -> None:
    found = drift(still(2) - 0.05 * ORDER / ORDER[-1], CELL, ORDER)
    assert found.flag
    assert found.low_pct < 100 * np.expm1(-0.05) < found.high_pct


def test_the_p_value_is_the_share_of_all_orders() -> None:
    values = np.array([1.00, 1.02, 1.05, 2.00, 2.03, 2.01])
    cell, x = np.repeat([0, 1], 3), np.array([0.0, 2.0, 4.0, 1.0, 3.0, 5.0])

    def slope(y: np.ndarray) -> float:
        return float(sum((x[s] - x[s].mean()) @ y[s] for s in (slice(0, 3), slice(3, 6))))

    observed = slope(values)
    shuffled = [
        slope(np.concatenate([values[list(a)], values[list(b)]]))
        for a, b in product(permutations(range(3)), permutations(range(3, 6)))
    ]
    exact = np.mean(np.abs(np.array(shuffled) - np.mean(shuffled)) >= abs(observed) - 1e-12)
    found = within_cells(values, cell, x, draws=20_000)
    assert exact == pytest.approx(found.p, abs=0.01)


def test_quiet_cells_count_for_more() -> None:
    noisy = CELL % 2 == 1
    values = still(3) - 0.01 * (TURN == 0)
    values[noisy] += np.random.default_rng(4).normal(0, 0.5, noisy.sum())
    spread = np.where(noisy, 0.5, 0.005)
    assert not warm_up(values, CELL, ORDER).flag
    assert warm_up(values, CELL, ORDER, spread=spread).flag


def test_a_capped_title_says_nothing_and_breaks_nothing() -> None:
    found = drift(np.full(CELL.size, np.log(60.0)), CELL, ORDER)
    assert (found.p, found.change_pct, found.flag) == (1.0, 0.0, False)


def test_many_runs_of_a_cell_are_shuffled_not_listed() -> None:
    values = np.random.default_rng(5).normal(0, 0.01, 20) - 0.1 * np.arange(20) / 19
    assert drift(values, np.zeros(20), np.arange(20)).flag


@settings(deadline=None, max_examples=25)
@given(SEEDS)
def test_the_order_of_rows_does_not_matter(seed: int) -> None:
    values, rows = still(seed), np.random.default_rng(seed).permutation(CELL.size)
    for test in (warm_up, drift):
        there, moved = test(values, CELL, ORDER), test(values[rows], CELL[rows], ORDER[rows])
        assert there.p == moved.p
        assert there.change_pct == pytest.approx(moved.change_pct, abs=1e-9)


@settings(deadline=None, max_examples=25)
@given(SEEDS)
def test_the_metrics_unit_does_not_matter(seed: int) -> None:
    values = still(seed)
    there, moved = drift(values, CELL, ORDER), drift(values + 2.0, CELL, ORDER)
    assert there.p == pytest.approx(moved.p)
    assert there.change_pct == pytest.approx(moved.change_pct, abs=1e-9)


def test_without_repeated_cells_the_order_says_nothing() -> None:
    with pytest.raises(NoRepeatedCellError):
        drift([1.0, 2.0, 3.0], [0, 1, 2], [0, 1, 2])
    with pytest.raises(NoRepeatedCellError):
        within_cells([1.0, 2.0], [0, 0], [1.0, 1.0])


def test_bad_input_is_a_named_error() -> None:
    with pytest.raises(ShapeError):
        drift([1.0, 2.0], [0, 0, 0], [0, 1])
    with pytest.raises(OutOfRangeError):
        drift([1.0, 2.0], [0, 0], [0, 1], spread=0.0)
    with pytest.raises(OutOfRangeError):
        drift([1.0, 2.0], [0, 0], [0, 1], alpha=1.0)
