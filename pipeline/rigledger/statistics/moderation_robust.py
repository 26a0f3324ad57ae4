"""Moderated variances that a few hypervariable cells can't spoil.

Source: Phipson B, Lee S, Majewski IJ, Alexander WS, Smyth GK (2016), Robust hyperparameter
estimation protects against hypervariable genes and improves power to detect differential
expression, Ann Appl Stat 10(2), 946-963: winsorised moments of ln s² fix the prior; cells that are
improbable under it get fewer prior degrees of freedom and are left nearly as measured.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats
from scipy.optimize import brentq

from rigledger.statistics.moderation import VariancePrior, fit_prior, prepare_variances

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray

TAILS = (0.05, 0.1)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(128)


@dataclass(frozen=True)
class RobustPrior:
    """A robust prior.

    Attributes:
        prior: by cell; `prior.df` is lowered for improbable cells.
        common_df: d0 of cells that fit in.
        outlier_df: d0 at which the most extreme cell would be unremarkable; equals `common_df`
            where no cell stands out.
        tail_p: how improbable each cell is under the common prior. Shape (cells,).
    """

    prior: VariancePrior
    common_df: float
    outlier_df: float
    tail_p: FloatArray


def fit_robust_prior(
    variance: FloatArray, df: float, tails: tuple[float, float] = TAILS
) -> RobustPrior:
    """Estimate the prior from winsorised moments.

    Args:
        variance: sample variances s². Shape (cells,), three or more.
        df: their common degrees of freedom.
        tails: shares winsorised below and above.

    Raises:
        ComparisonInputError: see `prepare_variances`.
    """
    s2, _ = prepare_variances(variance, np.asarray(df))
    plain = fit_prior(s2, np.asarray(df))
    z = np.log(s2)
    trend = float(stats.trim_mean(z, tails[1]))
    mean, spread = _winsorised(z - trend, tails)
    common = _solve_df(spread, df, float(plain.df[0]), tails)
    level = trend + mean - _theory(df, common, tails)[0]
    ratio = np.exp(z - level)
    log_tail = _law(df, common).logsf(ratio)
    d0, outlier = _shrink_df(log_tail, ratio, df, common)
    prior = VariancePrior(d0, np.full(len(s2), np.exp(level)))
    return RobustPrior(prior, common, outlier, np.exp(log_tail))


def _law(df: float, d0: float) -> stats.rv_frozen:
    """Law of s² / s0²: F, or χ² / df where d0 is infinite."""
    return stats.chi2(df, scale=1.0 / df) if np.isinf(d0) else stats.f(df, d0)


def _winsorised(residual: FloatArray, tails: tuple[float, float]) -> tuple[float, float]:
    low, high = np.quantile(residual, (tails[0], 1.0 - tails[1]))
    kept = np.clip(residual, low, high)
    return float(kept.mean()), float(kept.var(ddof=1))


def _theory(df: float, d0: float, tails: tuple[float, float]) -> tuple[float, float]:
    """Mean and variance of ln F winsorised at its own quantiles (Gauss-Legendre in F / (1 + F))."""
    law = _law(df, d0)
    ends = law.ppf(np.array([tails[0], 1.0 - tails[1]]))
    low, high = ends / (1.0 + ends)
    node = low + (high - low) * 0.5 * (_NODES + 1.0)
    f = node / (1.0 - node)
    weight = 0.5 * (high - low) * _WEIGHTS * law.pdf(f) / (1.0 - node) ** 2
    at_ends, z = np.log(ends), np.log(f)
    mean = float(np.sum(weight * z) + np.sum(at_ends * tails))
    second = float(np.sum(weight * (z - mean) ** 2) + np.sum((at_ends - mean) ** 2 * tails))
    return mean, second


def _solve_df(spread: float, df: float, plain: float, tails: tuple[float, float]) -> float:
    """The d0, not below the plain estimate, at which theory has the observed spread."""

    def miss(share: float) -> float:
        d0 = share / (1.0 - share) if share < 1.0 else np.inf
        return float(np.log(spread / _theory(df, d0, tails)[1]))

    if np.isinf(plain) or miss(1.0) <= 0.0:
        return float(np.inf)
    low = plain / (1.0 + plain)
    if miss(low) >= 0.0:
        return plain
    share = brentq(miss, low, 1.0 - 1e-9, xtol=1e-15, rtol=1e-14)
    return float(share / (1.0 - share))


def _shrink_df(
    log_tail: FloatArray, ratio: FloatArray, df: float, common: float
) -> tuple[FloatArray, float]:
    """Prior df per cell: lower the more improbable a cell is among so many."""
    n = len(ratio)
    rank = stats.rankdata(ratio)
    log_fits = np.minimum(log_tail - np.log((n - rank + 0.5) / n), 0.0)
    if not np.any(log_fits < 0.0):
        return np.full(n, common), common
    order = np.argsort(log_tail, kind="stable")
    shrunk = np.empty(n)
    if np.isinf(common):
        pooled = np.where(log_fits < 0.0, np.exp(log_fits) * n * df, np.inf)
        shrunk[order] = np.maximum.accumulate(pooled[order])
        return shrunk, float(shrunk.min())
    outlier = _outlier_df(log_tail, ratio, df, common)
    mixed = np.exp(log_fits) * common - np.expm1(log_fits) * outlier
    shrunk[order] = _rising(mixed[order])
    return shrunk, outlier


def _outlier_df(log_tail: FloatArray, ratio: FloatArray, df: float, common: float) -> float:
    """A d0 that makes the largest ratio about the median of its law (two linear steps)."""
    first = np.log(0.5) / float(log_tail.min()) * common
    return float(np.log(0.5) / _law(df, first).logsf(ratio.max()) * first)


def _rising(values: FloatArray) -> FloatArray:
    """Make values non-decreasing: the start pooled down to its lowest running mean."""
    running = np.cumsum(values) / np.arange(1, len(values) + 1)
    lowest = int(np.argmin(running))
    pooled = values.copy()
    pooled[: lowest + 1] = running[lowest]
    rising: FloatArray = np.maximum.accumulate(pooled)
    return rising
