from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.statistics.errors import NotFiniteError, OutOfRangeError, TooFewValuesError
from rigledger.statistics.random_effects import (
    heterogeneity,
    next_measured,
    pool,
    tau2,
    tau2_interval,
)

Y = np.array([0.02, 0.08, -0.03, 0.11, 0.05])
V = np.array([0.001, 0.0004, 0.002, 0.0009, 0.0005])
EFFECTS = st.lists(st.tuples(st.floats(-0.5, 0.5), st.floats(1e-4, 1e-2)), min_size=3, max_size=12)
ESTIMATORS = ["DL", "PM", "REML", "ML"]

if TYPE_CHECKING:
    from rigledger.statistics.random_effects import Estimator


@pytest.mark.parametrize(("ours", "theirs"), [("DL", "chi2"), ("PM", "iterated")])
def test_tau2_agrees_with_statsmodels(ours: Estimator, theirs: str) -> None:
    from statsmodels.stats.meta_analysis import combine_effects

    # General-purpose reference library; its iteration stops at about seven digits.
    expected = combine_effects(Y, V, method_re=theirs).tau2
    assert expected == pytest.approx(tau2(Y, V, ours), rel=1e-6)


def test_hartung_knapp_agrees_with_statsmodels() -> None:
    from statsmodels.stats.meta_analysis import combine_effects

    reference = combine_effects(Y, V, method_re="chi2", use_t=True)
    pooled = pool(Y, V, estimator="DL")
    assert reference.sd_eff_w_re_hksj == pytest.approx(pooled.standard_error, rel=1e-9)


@pytest.mark.parametrize("estimator", ESTIMATORS)
def test_effects_that_agree_have_no_spread_between_them(estimator: Estimator) -> None:
    pooled = pool([0.1, 0.1001, 0.0999], [0.01, 0.02, 0.01], estimator=estimator)
    assert (pooled.tau2, pooled.i2_pct, pooled.h2) == (0.0, 0.0, 1.0)


def test_the_maximum_likelihood_estimates_maximise_the_likelihood() -> None:
    def likelihood(t: float, *, restricted: bool) -> float:
        w = 1 / (V + t)
        centre = np.average(Y, weights=w)
        value = 0.5 * np.log(w).sum() - 0.5 * (w * (Y - centre) ** 2).sum()
        return value - (0.5 * np.log(w.sum()) if restricted else 0.0)

    for estimator, restricted in (("REML", True), ("ML", False)):
        best = tau2(Y, V, estimator)
        at_best = likelihood(best, restricted=restricted)
        assert at_best > likelihood(best * 1.01, restricted=restricted)
        assert at_best > likelihood(best * 0.99, restricted=restricted)


def test_the_prediction_interval_needs_three_effects_where_its_kind_says_so() -> None:
    pair = pool(Y[:2], V[:2], prediction_kind="t_k_minus_2")
    triple = pool(Y[:3], V[:3], prediction_kind="t_k_minus_2")
    assert pair.prediction is None
    assert triple.prediction is not None
    assert triple.prediction[0] < triple.lower < triple.upper < triple.prediction[1]


def test_two_equal_effects_do_not_pass_for_certainty_where_tables_ask() -> None:
    plain = pool([0.5, 0.5], [0.25, 0.25], hartung_knapp=False)
    guarded = pool([0.5, 0.5], [0.25, 0.25], never_narrower=True)
    assert guarded.standard_error == plain.standard_error
    assert guarded.upper > plain.upper


def test_equal_effects_have_no_t_statistic_of_nan() -> None:
    pooled = pool([0.5, 0.5], [0.25, 0.25])
    assert (pooled.standard_error, pooled.statistic, pooled.p) == (0.0, np.inf, 0.0)
    assert pool([0.0, 0.0], [0.25, 0.25]).p == 1.0


@settings(deadline=None)
@given(EFFECTS, st.floats(0.1, 10))
def test_scale_and_sign_of_the_effects_scale_the_figures(
    effects: list[tuple[float, float]], scale: float
) -> None:
    y, v = map(np.array, zip(*effects, strict=True))
    plain = pool(y, v, estimator="PM")
    scaled = pool(-scale * y, scale**2 * v, estimator="PM")
    assert scaled.tau2 == pytest.approx(scale**2 * plain.tau2, rel=1e-6, abs=1e-12)
    assert scaled.mean == pytest.approx(-scale * plain.mean, rel=1e-6, abs=1e-9)
    assert scaled.i2_pct == pytest.approx(plain.i2_pct, rel=1e-5, abs=1e-6)
    assert scaled.upper == pytest.approx(-scale * plain.lower, rel=1e-5, abs=1e-8)


@settings(deadline=None)
@given(EFFECTS)
def test_the_order_of_effects_does_not_matter(effects: list[tuple[float, float]]) -> None:
    y, v = map(np.array, zip(*effects, strict=True))
    for estimator in ("DL", "PM"):
        expected = tau2(y, v, estimator)
        assert expected == pytest.approx(tau2(y[::-1], v[::-1], estimator), rel=1e-7, abs=1e-12)


@settings(deadline=None)
@given(EFFECTS)
def test_the_interval_of_tau2_holds_the_paule_mandel_estimate_or_both_are_at_zero(
    effects: list[tuple[float, float]],
) -> None:
    y, v = map(np.array, zip(*effects, strict=True))
    lower, upper = tau2_interval(y, v)
    # Q at the estimate is k - 1, which lies between the 2.5 and 97.5 % points of chi-square.
    assert lower <= tau2(y, v, "PM") * (1 + 1e-9)
    assert tau2(y, v, "PM") <= upper * (1 + 1e-9)


def test_bad_input_is_a_named_error() -> None:
    with pytest.raises(TooFewValuesError):
        heterogeneity([0.1], [0.01])
    with pytest.raises(OutOfRangeError):
        pool([0.1, 0.2], [0.01, 0.0])
    with pytest.raises(NotFiniteError):
        pool([0.1, np.nan], [0.01, 0.01])


@pytest.mark.parametrize("sure", [1e-12, 1e-8, 1e-4])
def test_one_effect_that_outweighs_all_others_does_not_stop_the_estimate(sure: float) -> None:
    found = pool([0.1, 0.0, 3.0], [sure, 1e4, 4e4], never_narrower=True)
    assert found.mean == pytest.approx(0.1, abs=1e-3)
    assert found.lower < 0.1 < found.upper


def test_what_one_more_contributor_measures_lies_where_a_further_observation_would() -> None:
    """Three effects 1, 2 and 3 per cent: t(2) = 4.302653 at 95 % (any printed table), s = 1."""
    low, high = next_measured([0.01, 0.02, 0.03], [1e-6] * 3)
    half = 4.302653 * 0.01 * (4 / 3) ** 0.5
    assert pytest.approx((0.02 - half, 0.02 + half), rel=1e-6) == (low, high)


def test_effects_that_happen_to_agree_dont_make_a_further_one_certain() -> None:
    low, high = next_measured([0.02, 0.02, 0.02], [1e-4] * 3)
    assert pytest.approx(2 * 4.302653 * 0.01 * (4 / 3) ** 0.5, rel=1e-6) == high - low


@given(EFFECTS)
def test_a_further_effect_is_never_better_known_than_one_of_those_measured(
    effects: list[tuple[float, float]],
) -> None:
    y, v = (np.array(column) for column in zip(*effects, strict=True))
    low, high = next_measured(y, v)
    assert high - low >= 2 * 1.959964 * v.mean() ** 0.5
