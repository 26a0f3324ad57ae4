"""The share of a pass: law of the residual correlation, and what few pairs leave open."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.integrate import quad

from rigledger.statistics.pass_share import GRID, fit_pass_share


def sums(rho: float, pairs: int, df: int, seed: int = 2) -> tuple[np.ndarray, ...]:
    rng = np.random.default_rng(seed)
    a = rng.normal(size=(pairs, df))
    b = rho * a + np.sqrt(1 - rho**2) * rng.normal(size=(pairs, df))
    scale = np.exp(rng.normal(0, 1, (pairs, 1)))
    b = b * scale
    return (a**2).sum(1), (b**2).sum(1), (a * b).sum(1), np.full(pairs, float(df))


@pytest.mark.parametrize("rho", [0.0, 0.35, 0.7])
def test_many_pairs_recover_the_share_whatever_their_spreads(rho: float) -> None:
    share = fit_pass_share(*sums(rho, 2000, 2))
    assert share.mean == pytest.approx(rho, abs=0.05)
    assert share.pairs == 2000


def test_likelihood_of_one_pair_is_fishers_density() -> None:
    r, df = 0.6, 3.0

    def density(rho: float) -> float:
        value, _ = quad(lambda w: (np.cosh(w) - rho * r) ** -df, 0.0, 20.0)
        return float((1 - rho**2) ** (df / 2) * value)

    one = np.ones(1)
    told = fit_pass_share(one, one, r * one, df * one).weight
    nothing = fit_pass_share(one, one, one, 0 * one).weight
    likelihood = told / nothing
    exact = np.array([density(rho) for rho in GRID])
    np.testing.assert_allclose(likelihood / likelihood.sum(), exact / exact.sum(), rtol=2e-3)


def test_without_pairs_passes_share_nothing_give_or_take() -> None:
    none = np.zeros(0)
    share = fit_pass_share(none, none, none, none)
    assert share.pairs == 0
    assert abs(share.mean) < 0.06
    assert share.sd > 0.3


def test_pairs_without_spread_say_nothing() -> None:
    zero = np.zeros(3)
    assert fit_pass_share(zero, zero, zero, np.full(3, 2.0)).pairs == 0
