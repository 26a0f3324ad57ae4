"""A natural cubic spline by least squares: the trend of ln variance over a covariate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray


def spline_dimension(values: int, distinct: int) -> int:
    """How many coefficients a trend over so many values gets: 1, 2 from 3, 3 from 6, 4 from 30."""
    return min(1 + (values >= 3) + (values >= 6) + (values >= 30), distinct)


def natural_spline_basis(x: FloatArray, knots: FloatArray) -> FloatArray:
    """Natural cubic splines with the given knots (Hastie, Tibshirani and Friedman 2009, eq. 5.4).

    Args:
        x: where. Shape (values,).
        knots: ascending; the first and last are the ends, beyond which the spline is straight.

    Returns:
        Shape (values, knots).
    """

    def cubic(k: int) -> FloatArray:
        ends = np.maximum(x - knots[k], 0.0) ** 3 - np.maximum(x - knots[-1], 0.0) ** 3
        scaled: FloatArray = ends / (knots[-1] - knots[k])
        return scaled

    last = len(knots) - 2
    columns = [np.ones_like(x), x]
    columns += [cubic(k) - cubic(last) for k in range(last)]
    return np.stack(columns, axis=1)


def fit_trend(value: FloatArray, covariate: FloatArray) -> tuple[FloatArray, float]:
    """Fit the spline; inner knots at evenly spaced quantiles of the covariate.

    Returns:
        The fitted values, shape (values,), and the residual variance.
    """
    x = np.asarray(covariate, dtype=np.float64)
    dimension = spline_dimension(len(x), len(np.unique(x)))
    if dimension == 1:
        return np.full(len(value), value.mean()), float(value.var(ddof=1)) if len(x) > 1 else 0.0
    scaled = (x - x.min()) / (x.max() - x.min())
    knots = np.quantile(scaled, np.linspace(0.0, 1.0, dimension))
    basis = natural_spline_basis(scaled, knots)
    coefficients = np.linalg.lstsq(basis, value, rcond=None)[0]
    fitted: FloatArray = (basis * coefficients).sum(axis=1)
    free = max(len(value) - dimension, 1)
    return fitted, float(np.sum((value - fitted) ** 2)) / free
