from __future__ import annotations

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy import stats

from rigledger.statistics.checks import NoVarianceError
from rigledger.statistics.errors import NotFiniteError, TooFewValuesError
from rigledger.statistics.summary import (
    analysis_of_variance,
    autocorrelation,
    mean,
    standard_deviation,
)

SAMPLES = st.lists(st.integers(-1000, 1000), min_size=3, max_size=30)


def test_a_large_offset_costs_no_digits() -> None:
    base = np.array([0.1, 0.2, 0.3, 0.4])
    exact = np.array([1.0, 2.0, 3.0, 4.0]) + 2.0**40
    assert standard_deviation(exact) == standard_deviation([1.0, 2.0, 3.0, 4.0])
    assert standard_deviation(base) == pytest.approx(np.std(base, ddof=1), rel=1e-15)


@settings(deadline=None)
@given(SAMPLES)
def test_mean_and_sd_agree_with_numpy_and_do_not_depend_on_order(sample: list[int]) -> None:
    assert mean(sample) == pytest.approx(np.mean(sample), abs=1e-9)
    assert standard_deviation(sample) == pytest.approx(np.std(sample, ddof=1), abs=1e-9)
    assert mean(sample) == mean(sample[::-1])
    assert standard_deviation(sample) == standard_deviation(sample[::-1])


@settings(deadline=None)
@given(SAMPLES)
def test_autocorrelation_is_the_same_backwards_and_within_one(sample: list[int]) -> None:
    assume(np.ptp(sample) > 0)
    assert autocorrelation(sample) == pytest.approx(autocorrelation(sample[::-1]))
    assert -1 <= autocorrelation(sample) <= 1


def test_the_analysis_of_variance_agrees_with_scipy_for_unequal_groups() -> None:
    groups = [[1.0, 2.0, 4.0], [2.0, 3.0], [5.0, 5.5, 6.0, 7.0]]
    reference = stats.f_oneway(*groups)
    table = analysis_of_variance(groups)
    assert (table.f, table.p) == pytest.approx((reference.statistic, reference.pvalue))
    pooled = np.concatenate(groups)
    total = ((pooled - pooled.mean()) ** 2).sum()
    assert table.ss_between + table.ss_within == pytest.approx(total)


def test_too_little_to_summarise_is_a_named_error() -> None:
    with pytest.raises(TooFewValuesError):
        mean([])
    with pytest.raises(TooFewValuesError):
        standard_deviation([1.0])
    with pytest.raises(NotFiniteError):
        mean([1.0, np.inf])
    with pytest.raises(NoVarianceError):
        autocorrelation([1.0, 1.0])
    with pytest.raises(NoVarianceError):
        analysis_of_variance([[1.0, 1.0], [2.0, 2.0]])
    with pytest.raises(TooFewValuesError):
        analysis_of_variance([[1.0], [2.0]])
