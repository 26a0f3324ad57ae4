"""ρ: the share of the run-to-run variance that the levels of one pass have in common.

With three passes a pair says next to nothing about its own ρ, so one value is estimated from all
pairs of the contributor. The correlation r of the residuals of a pair has a law that depends on ρ
and the degrees of freedom alone, whatever the cells' spreads (Fisher 1915, Biometrika 10, 507-521;
integral form of Hotelling 1953, J R Stat Soc B 15, 193-232).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray

GRID = np.linspace(-0.94, 0.96, 96)
_PRIOR_SD_OF_Z = 0.6
_LARGE = 30.0
_TABLE_Z = np.linspace(-0.97, 0.97, 389)
_LEVELS = np.array([0.1, 0.3, 0.5, 0.7, 0.9])


@dataclass(frozen=True)
class PassShare:
    """Posterior of ρ over `GRID`, and the five equally likely values that stand for it.

    Attributes:
        weight: posterior probability of each grid value.
        nodes: quantiles at 10, 30, 50, 70 and 90 %.
        mean, sd: of the posterior.
        pairs: pairs that informed it.
    """

    weight: FloatArray
    nodes: FloatArray
    mean: float
    sd: float
    pairs: int


def fit_pass_share(
    squares_a: FloatArray, squares_b: FloatArray, products: FloatArray, df: FloatArray
) -> PassShare:
    """Posterior of ρ from the pairs' residual sums of squares and products over shared passes.

    The prior is normal in Fisher's z about 0 with sd 0.6: without pairs, passes are taken to share
    nothing, give or take.

    Args:
        squares_a: residual sums of squares of one cell. Shape (pairs,).
        squares_b: those of the other cell. Shape (pairs,).
        products: residual sums of products. Shape (pairs,).
        df: shared passes minus sessions. Shape (pairs,). Pairs with df < 1 or without spread on a
            side say nothing.
    """
    told = (df >= 1) & (squares_a > 1e-18) & (squares_b > 1e-18)
    r = products[told] / np.sqrt(squares_a[told] * squares_b[told])
    r = np.clip(r, -1.0, 1.0)
    z = np.arctanh(GRID)
    log_weight = -0.5 * (z / _PRIOR_SD_OF_Z) ** 2 - np.log(1.0 - GRID**2)
    for freedom in np.unique(df[told]):
        log_weight = log_weight + _log_likelihood(r[df[told] == freedom], float(freedom))
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    mean = float(np.sum(weight * GRID))
    sd = float(np.sqrt(np.sum(weight * (GRID - mean) ** 2)))
    return PassShare(weight, _quantiles(weight), mean, sd, int(np.count_nonzero(told)))


def _quantiles(weight: FloatArray) -> FloatArray:
    step = GRID[1] - GRID[0]
    cumulative = np.concatenate(([0.0], np.cumsum(weight)))
    edges = np.append(GRID - step / 2, GRID[-1] + step / 2)
    nodes: FloatArray = np.interp(_LEVELS, cumulative, edges)
    return nodes


def _log_likelihood(r: FloatArray, df: float) -> FloatArray:
    """Sum over pairs of the log density of r at each value of the grid."""
    if df > _LARGE:
        z = np.arctanh(np.clip(r, -0.999999, 0.999999))
        total: FloatArray = -0.5 * (df - 1.0) * (z[:, None] - np.arctanh(GRID)) ** 2
    else:
        total = 0.5 * df * np.log(1.0 - GRID**2) + _log_integral(r[:, None] * GRID, df)
    summed: FloatArray = total.sum(axis=0)
    return summed


def _log_integral(product: FloatArray, df: float) -> FloatArray:
    """Ln of the integral of (cosh w - ρr)^-df over w > 0, interpolated from a table."""
    value: FloatArray = np.interp(product, _TABLE_Z, _table(df))
    return value


@lru_cache(maxsize=64)
def _table(df: float) -> FloatArray:
    w = np.linspace(0.0, 14.0, 1401)
    height = (np.cosh(w) - _TABLE_Z[:, None]) ** -df
    height[:, 0] *= 0.5
    table: FloatArray = np.log(height.sum(axis=1) * (w[1] - w[0]))
    return table
