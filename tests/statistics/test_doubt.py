from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from rigledger.statistics.doubt import (
    Doubt,
    LogNormalSpread,
    ModeratedSpread,
    doubtful_runs,
    doubtful_runs_refitted,
)
from rigledger.statistics.errors import NotFiniteError, OutOfRangeError, ShapeError

SEEDS = st.integers(0, 10_000)


def known(cells: int, sd: float = 0.01, ln_sd: float = 0.3) -> LogNormalSpread:
    return LogNormalSpread(np.full(cells, np.log(sd)), np.full(cells, ln_sd))


def study(seed: int, cells: int = 20, runs: int = 3) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    values = np.random.default_rng(seed).normal(4.0, 0.01, (cells, runs)).reshape(-1)
    cell = np.repeat(np.arange(cells), runs)
    return values, cell, np.zeros_like(cell)


def test_a_run_twenty_spreads_off_is_doubtful_and_no_other() -> None:
    values, cell, session = study(1)
    values[7] -= 0.2
    found = doubtful_runs(values, cell, session, known(20))
    assert np.flatnonzero(found.doubtful).tolist() == [7]
    assert found.score[7] < -4
    others = values[[6, 8]].mean()
    assert found.residual_pct[7] == pytest.approx(100 * np.expm1(values[7] - others))


def test_two_runs_that_agree_by_chance_do_not_make_the_third_doubtful() -> None:
    # Grubbs's test would flag this cell at 1 %; the model knows that its spread is about 1 %.
    found = doubtful_runs([4.0, 4.00001, 4.01], [0, 0, 0], [0, 0, 0], known(1))
    assert not found.doubtful.any()
    assert found.p.min() > 0.2


def test_the_log_normal_p_is_the_integral_over_the_posterior_of_the_spread() -> None:
    values = np.array([0.00, 0.01, 0.05])
    found = doubtful_runs(values, [0, 0, 0], [0, 0, 0], known(1, ln_sd=0.5))

    # The third run: residual 0.045 from the others, whose sum of squares is 0.01^2 / 2.
    def weight(x: float) -> float:
        return float(stats.norm.pdf(x, np.log(0.01), 0.5) * np.exp(-x - 0.25e-4 * np.exp(-2 * x)))

    def tail(x: float) -> float:
        return weight(x) * 2 * float(stats.norm.sf(0.045 / np.exp(x) / 1.5**0.5))

    total = integrate.quad(weight, -9, 0, limit=200)[0]
    expected = integrate.quad(tail, -9, 0, limit=200)[0] / total
    assert expected == pytest.approx(found.p[2], rel=1e-6)


def test_the_moderated_p_is_students_with_pooled_variance_and_degrees_of_freedom() -> None:
    values = np.array([0.00, 0.01, 0.05])
    prior = ModeratedSpread(np.array([1e-4]), np.array([4.0]))
    found = doubtful_runs(values, [0, 0, 0], [0, 0, 0], prior)
    variance = (4 * 1e-4 + 0.01**2 / 2) / (4 + 1)
    expected = 2 * stats.t.sf(0.045 / (1.5 * variance) ** 0.5, 5)
    assert expected == pytest.approx(found.p[2])


def test_infinite_prior_degrees_of_freedom_mean_a_known_spread() -> None:
    prior = ModeratedSpread(np.array([1e-4]), np.array([np.inf]))
    found = doubtful_runs([0.0, 0.01, 0.05], [0, 0, 0], [0, 0, 0], prior)
    assert found.p[2] == pytest.approx(2 * stats.norm.sf(0.045 / (1.5e-4) ** 0.5))


def test_cells_of_one_or_two_runs_are_not_tested() -> None:
    found = doubtful_runs([4.0, 4.0, 9.0], [0, 1, 1], [0, 0, 0], known(2))
    assert not found.tested.any()
    assert found.p.tolist() == [1.0, 1.0, 1.0]
    assert found.score.tolist() == [0.0, 0.0, 0.0]


def test_a_shift_between_sessions_raises_no_doubt() -> None:
    values = np.random.default_rng(8).normal(0, 0.01, 6) + np.repeat([4.0, 4.3], 3)
    found = doubtful_runs(values, np.zeros(6), np.repeat([0, 1], 3), known(1))
    assert found.tested.all()
    assert not found.doubtful.any()


def test_one_step_of_rounding_between_equal_runs_is_no_doubt() -> None:
    fps = np.array([60.0, 60.0, 60.0, 60.0, 61.0])
    found = doubtful_runs(np.log(fps), np.zeros(5), np.zeros(5), known(1, 1e-4), ln_step=1 / fps)
    unrounded = doubtful_runs(np.log(fps), np.zeros(5), np.zeros(5), known(1, 1e-4))
    assert not found.doubtful.any()
    assert unrounded.doubtful[4]


def test_equal_runs_give_defined_answers() -> None:
    found = doubtful_runs([4.0] * 3, [0] * 3, [0] * 3, known(1))
    assert found.p.tolist() == [1.0] * 3
    empty = doubtful_runs([], [], [], known(1))
    assert empty.doubtful.tolist() == []


def test_a_refit_without_what_stands_out_finds_what_hid_behind_it() -> None:
    values, cell, session = study(5, runs=4)
    gross, small = [0, 4], [8, 12]
    values[gross] -= 0.5
    values[small] -= 0.1

    def fit(used: np.ndarray) -> ModeratedSpread:
        runs = np.bincount(cell, used)
        mean = np.bincount(cell, values * used) / runs
        pooled = (used * (values - mean[cell]) ** 2).sum() / (runs - 1).sum()
        return ModeratedSpread(np.full(20, pooled), np.full(20, 50.0))

    first = doubtful_runs(values, cell, session, fit(np.ones(80, dtype=bool)))
    refitted = doubtful_runs_refitted(values, cell, session, fit)
    assert np.flatnonzero(first.doubtful).tolist() == gross
    assert np.flatnonzero(refitted.doubtful).tolist() == gross + small


def same(expected: Doubt, actual: Doubt, order: np.ndarray) -> None:
    np.testing.assert_allclose(expected.p[order], actual.p, rtol=1e-9)
    np.testing.assert_array_equal(expected.doubtful[order], actual.doubtful)


@settings(deadline=None, max_examples=25)
@given(SEEDS)
def test_the_order_of_rows_does_not_matter(seed: int) -> None:
    values, cell, session = study(seed)
    order = np.random.default_rng(seed).permutation(values.size)
    there = doubtful_runs(values, cell, session, known(20))
    same(there, doubtful_runs(values[order], cell[order], session[order], known(20)), order)


@settings(deadline=None, max_examples=25)
@given(SEEDS, st.floats(-3, 3))
def test_another_unit_does_not_matter(seed: int, shift: float) -> None:
    values, cell, session = study(seed)
    there = doubtful_runs(values, cell, session, known(20))
    moved = doubtful_runs(values + shift, cell, session, known(20))
    np.testing.assert_allclose(there.p, moved.p, rtol=1e-6)
    np.testing.assert_allclose(there.residual_pct, moved.residual_pct, atol=1e-9)


def test_bad_input_is_a_named_error() -> None:
    values, cell, session = study(1)
    with pytest.raises(NotFiniteError):
        doubtful_runs(np.where(cell == 0, np.nan, values), cell, session, known(20))
    with pytest.raises(ShapeError):
        doubtful_runs(values, cell[1:], session, known(20))
    with pytest.raises(ShapeError):
        doubtful_runs(values, cell, session, known(19))
    with pytest.raises(OutOfRangeError):
        doubtful_runs(values, cell, session, known(20), ln_step=-1.0)
    with pytest.raises(OutOfRangeError):
        doubtful_runs(values, cell, session, known(20), study_wide_rate=0.0)
