"""Closed-form moderation: properties, odd inputs and named errors."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import polygamma

from rigledger.statistics.comparison_errors import ArrayShapeError, ValueNotPositiveError
from rigledger.statistics.moderation import fit_prior, inverse_trigamma, moderate
from rigledger.statistics.moderation_robust import fit_robust_prior
from rigledger.statistics.student import difference


@pytest.mark.parametrize("value", [1e-9, 1e-3, 0.5, 2.0, 1e3, 1e9])
def test_inverse_trigamma_inverts(value: float) -> None:
    assert float(polygamma(1, inverse_trigamma(value))) == pytest.approx(value, rel=1e-6)


def test_posterior_lies_between_the_cell_and_the_prior() -> None:
    rng = np.random.default_rng(1)
    s2, df = np.exp(rng.normal(0, 1.5, 50)), np.full(50, 2.0)
    prior = fit_prior(s2, df)
    posterior = moderate(s2, df, prior)
    low, high = np.minimum(s2, prior.variance), np.maximum(s2, prior.variance)
    assert np.all((posterior >= low) & (posterior <= high))


def test_scaling_all_variances_scales_the_prior() -> None:
    s2, df = np.random.default_rng(2).chisquare(2, 40), np.full(40, 2.0)
    one, two = fit_prior(s2, df), fit_prior(9 * s2, df)
    np.testing.assert_allclose(two.variance, 9 * one.variance, rtol=1e-9)
    np.testing.assert_allclose(two.df, one.df, rtol=1e-9)


def test_cells_without_spread_do_not_spoil_the_prior() -> None:
    prior = fit_prior(np.array([0.0, 1.0, 2.0, 3.0]), np.full(4, 2.0))
    assert np.all(prior.variance > 0)
    robust = fit_robust_prior(np.array([0.0, 1.0, 2.0, 3.0, 2.5]), 2.0)
    assert np.all(np.isfinite(robust.prior.variance))


def test_one_variance_alone_is_its_own_prior() -> None:
    prior = fit_prior(np.array([4.0]), np.array([2.0]))
    assert (prior.variance[0], prior.df[0]) == (4.0, np.inf)


@pytest.mark.parametrize("bad", [[-1.0, 1.0], [np.nan, 1.0], [0.0, 0.0]])
def test_variances_that_are_none_are_refused(bad: list[float]) -> None:
    with pytest.raises(ValueNotPositiveError):
        fit_prior(np.array(bad), np.full(2, 2.0))


def test_baselines_refuse_what_they_cannot_judge() -> None:
    with pytest.raises(ArrayShapeError):
        difference(np.ones((1, 1)), np.ones((1, 3)))
    with pytest.raises(ArrayShapeError):
        difference(np.ones((1, 2)), np.ones((1, 3)), "paired")
    with pytest.raises(ValueNotPositiveError):
        difference(np.ones((1, 3)), np.ones((1, 3)))
