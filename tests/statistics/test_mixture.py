"""Scale mixtures: quantiles and tails against laws with a closed form."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from rigledger.statistics.mixture import ScaleMixture, compress


def test_one_component_is_the_normal_law() -> None:
    law = ScaleMixture(np.array([[2.0]]), np.array([[1.0]]))
    assert law.half_width(0.95)[0] == pytest.approx(2 * stats.norm.ppf(0.975), rel=1e-12)
    assert law.upper_tail(np.array([1.0]))[0] == pytest.approx(stats.norm.sf(0.5), rel=1e-12)
    assert law.standard_deviation()[0] == pytest.approx(2.0)


@pytest.mark.parametrize("df", [3.0, 8.0])
def test_an_inverse_chi_square_variance_gives_students_t(df: float) -> None:
    x = np.linspace(-4.0, 5.0, 400)
    variance = np.exp(2.0 * x)
    density = stats.chi2(df).pdf(df / variance) * df / variance
    law = compress(variance[None], density[None])
    for level in (0.90, 0.95, 0.99):
        exact = stats.t(df).ppf(0.5 + level / 2)
        assert law.half_width(level)[0] == pytest.approx(exact, rel=4e-3)


def test_each_row_may_have_its_own_level() -> None:
    law = ScaleMixture(np.ones((2, 1)), np.ones((2, 1)))
    expected = stats.norm.ppf([0.95, 0.975])
    np.testing.assert_allclose(law.half_width(np.array([0.90, 0.95])), expected, rtol=1e-12)


def test_tail_and_half_width_are_inverses() -> None:
    rng = np.random.default_rng(1)
    law = compress(np.exp(rng.normal(0, 1, (5, 60))), rng.random((5, 60)))
    np.testing.assert_allclose(law.upper_tail(law.half_width(0.95)), 0.025, rtol=1e-9)


@pytest.mark.parametrize("spread", [0.0, 0.1, 1.0, 8.0])
@pytest.mark.parametrize("level", [0.5, 0.95, 0.999999])
def test_the_quantile_leaves_the_tail_asked_for_to_the_last_digits(
    spread: float, level: float
) -> None:
    rng = np.random.default_rng(6)
    weight = rng.random((500, 48)) ** 4
    mixture = ScaleMixture(
        np.exp(spread * rng.normal(size=weight.shape)), weight / weight.sum(axis=1)[:, None]
    )
    tail = mixture.upper_tail(mixture.half_width(level))
    np.testing.assert_allclose(tail, 0.5 * (1 - level), rtol=1e-13)
