"""Moderated variances in closed form: a cell's variance shrunk towards what all cells share.

Source: Smyth GK (2004), Linear models and empirical Bayes methods for assessing differential
expression in microarray experiments, Stat Appl Genet Mol Biol 3(1), Article 3, sections 3 to 6.
The fast approximation of, and the check on, the hierarchical model in `spread`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import digamma, polygamma, stdtr, stdtrit

from rigledger.statistics.comparison_errors import ArrayShapeError, ValueNotPositiveError
from rigledger.statistics.moderation_trend import fit_trend

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray

_SMALLEST_SHARE = 1e-5
"""A variance of zero has no logarithm; it counts as this share of the median variance."""


@dataclass(frozen=True)
class VariancePrior:
    """The prior 1/σ² ~ χ²(d0) / (d0 s0²).

    Attributes:
        df: d0, infinite where all cells share one variance. Shape (cells,); it is the same
            number in each place unless the prior is robust.
        variance: s0², by cell. Shape (cells,).
    """

    df: FloatArray
    variance: FloatArray


@dataclass(frozen=True)
class ModeratedTest:
    """Moderated t of a difference. Shapes (rows,).

    Attributes:
        t, df: the statistic and its degrees of freedom.
        p: two-sided.
        half_width: of the interval at the level asked for.
    """

    t: FloatArray
    df: FloatArray
    p: FloatArray
    half_width: FloatArray


def inverse_trigamma(value: float) -> float:
    """Solve trigamma(x) = value for x > 0 by Newton's method on 1/trigamma (Smyth 2004, appendix).

    Args:
        value: above zero.
    """
    if value > 1e7:
        return float(1.0 / np.sqrt(value))
    if value < 1e-6:
        return 1.0 / value
    x = 0.5 + 1.0 / value
    for _ in range(50):
        trigamma = float(polygamma(1, x))
        step = trigamma * (1.0 - trigamma / value) / float(polygamma(2, x))
        x += step
        if abs(step) < 1e-12 * x:
            break
    return x


def prepare_variances(variance: FloatArray, df: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Check variances and degrees of freedom, and lift zeros off zero.

    Raises:
        ArrayShapeError: different shapes.
        ValueNotPositiveError: a negative or non-finite variance, no degrees of freedom, or only
            zeros.
    """
    s2, d = np.broadcast_arrays(np.asarray(variance, float), np.asarray(df, float))
    if s2.ndim != 1:
        raise ArrayShapeError("variance", -1, f"shape {s2.shape}, one dimension is needed")
    bad = np.flatnonzero(~(np.isfinite(s2) & (s2 >= 0) & (d > 0)))
    if bad.size or not np.any(s2 > 0):
        index = int(bad[0]) if bad.size else -1
        raise ValueNotPositiveError("variance", index, "no usable variance")
    middle = float(np.median(s2))
    least = _SMALLEST_SHARE * (middle if middle > 0 else float(s2[s2 > 0].min()))
    return np.maximum(s2, least), d


def fit_prior(
    variance: FloatArray, df: FloatArray, covariate: FloatArray | None = None
) -> VariancePrior:
    """Estimate d0 and s0² from the moments of ln s² (Smyth 2004, section 6.2).

    Args:
        variance: sample variances s². Shape (cells,).
        df: their degrees of freedom; a number or shape (cells,).
        covariate: if given, ln s0² is a natural cubic spline of it.

    Raises:
        ComparisonInputError: see `prepare_variances`.
    """
    s2, d = prepare_variances(variance, df)
    e = np.log(s2) - digamma(d / 2.0) + np.log(d / 2.0)
    if covariate is None:
        centre, excess = np.full(len(e), e.mean()), float(e.var(ddof=1)) if len(e) > 1 else 0.0
    else:
        centre, excess = fit_trend(e, covariate)
    excess -= float(np.mean(polygamma(1, d / 2.0)))
    if excess <= 0.0:
        pooled = np.full(len(s2), s2.mean()) if covariate is None else np.exp(centre)
        return VariancePrior(np.full(len(s2), np.inf), pooled)
    d0 = 2.0 * inverse_trigamma(excess)
    level = np.exp(centre + float(digamma(d0 / 2.0)) - np.log(d0 / 2.0))
    return VariancePrior(np.full(len(s2), d0), level)


def moderate(variance: FloatArray, df: FloatArray, prior: VariancePrior) -> FloatArray:
    """Posterior variances (d0 s0² + d s²) / (d0 + d) (Smyth 2004, section 4)."""
    infinite = np.isinf(prior.df)
    d0 = np.where(infinite, 0.0, prior.df)
    mixed = (d0 * prior.variance + df * variance) / (d0 + df)
    return np.where(infinite, prior.variance, mixed)


def moderated_t(
    difference: FloatArray,
    unscaled: FloatArray,
    variance: FloatArray,
    df: FloatArray,
    prior: VariancePrior,
    *,
    level: float = 0.95,
) -> ModeratedTest:
    """Moderated t test and interval of a difference.

    Args:
        difference: estimates. Shape (rows,).
        unscaled: factor by which the variance enters, 1/n + 1/m for two means.
        variance: sample variance of each row.
        df: its degrees of freedom.
        prior: the prior of the variances.
        level: of the interval.
    """
    se = np.sqrt(moderate(variance, df, prior) * unscaled)
    total = np.minimum(prior.df + df, np.sum(np.broadcast_to(df, np.shape(difference))))
    t = difference / se
    half = stdtrit(total, 0.5 + level / 2.0) * se
    return ModeratedTest(t, total, 2.0 * stdtr(total, -np.abs(t)), half)
