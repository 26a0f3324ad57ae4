"""Rounding error of the mean of a few rounded runs, against direct integration."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from rigledger.statistics.rounding import error_correlation, step_variance, variance_of_mean


def exact_correlation(sd: float) -> float:
    """Correlation of the rounding errors of two runs around one mean, averaged over the mean."""
    mean = (np.arange(400) + 0.5) / 400
    z = stats.norm.ppf((np.arange(4000) + 0.5) / 4000)
    x = mean[:, None] + sd * z
    error = (np.round(x) - x).mean(axis=1)
    return float(np.mean(error**2) * 12)


@pytest.mark.parametrize("sd", [0.05, 0.2, 0.4, 0.8])
def test_correlation_of_rounding_errors_agrees_with_integration(sd: float) -> None:
    found = error_correlation(np.array(sd**2), np.array(1 / 12))
    assert float(found) == pytest.approx(exact_correlation(sd), abs=0.05)


def test_runs_far_apart_average_the_rounding_error_out_and_equal_runs_do_not() -> None:
    floor = step_variance(np.array(1.0), np.array(60.0))
    apart = variance_of_mean(100 * floor, floor, np.array(1 / 3))
    equal = variance_of_mean(np.array(0.0), floor, np.array(1 / 3))
    assert float(apart) == pytest.approx(float(101 * floor / 3), rel=1e-9)
    assert float(equal) == pytest.approx(float(floor), rel=1e-9)


def test_without_a_step_there_is_no_rounding() -> None:
    none = step_variance(np.array(0.0), np.array(60.0))
    assert float(variance_of_mean(np.array(4.0), none, np.array(0.5))) == 2.0
