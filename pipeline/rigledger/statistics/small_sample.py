"""Reference distributions for numbers whose variances are themselves estimates.

A change with estimated variance v and nu degrees of freedom lies about its true value like
sqrt(v) times Student's t: exactly so for a moderated variance (Smyth GK (2004), Stat Appl Genet
Mol Biol 3(1):3), closely for a matched one (`matched_student`). A statistic of several such
changes is referred to the same statistic of independent t values.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincc

from rigledger.statistics.checks import positive, same_shape
from rigledger.statistics.laws import student_upper

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray

# Directions and scales come from separate streams, so that they are independent.
_DIRECTION_SEED, _SCALE_SEED = 20_240_229, 17_761_801
_FEWEST_DF, _MOST_DF = 0.5, 1e6


def matched_student(half_90: ArrayLike, half_95: ArrayLike) -> tuple[FloatArray, FloatArray]:
    """Returns the variance and degrees of freedom of the t law with these two intervals.

    Turns an interval that was integrated over uncertain spreads (a scale mixture) into the pair
    of numbers that later summaries need; both half-widths are reproduced. Outside 0.5 to a
    million degrees of freedom the nearer end is taken and the 95 % half-width kept.

    Args:
        half_90: half-width of the 90 % interval, any shape, ln units.
        half_95: half-width of the 95 % interval, same shape.

    Returns:
        variance and degrees of freedom, same shape; infinite where the law is normal.

    Raises:
        NotFiniteError, OutOfRangeError, ShapeError: as they say.
    """
    narrow, wide = positive(half_90, "half_90"), positive(half_95, "half_95")
    same_shape([narrow, wide], "half_95")
    ln_df, ratios = _quantile_ratios()
    # The ratio falls as the degrees of freedom grow; interp wants it rising.
    found = np.exp(np.interp(-wide / narrow, -ratios, ln_df))
    df = np.where(found >= _MOST_DF * (1 - 1e-9), np.inf, found)
    return (wide / student_upper(0.025, df)) ** 2, df


@cache
def _quantile_ratios() -> tuple[FloatArray, FloatArray]:
    ln_df = np.linspace(np.log(_FEWEST_DF), np.log(_MOST_DF), 20_000)
    df = np.exp(ln_df)
    return ln_df, student_upper(0.025, df) / student_upper(0.05, df)


def student_draws(degrees_of_freedom: FloatArray, draws: int) -> tuple[FloatArray, FloatArray]:
    """Returns normal draws and the scales that make independent t draws of them.

    The same numbers for the same degrees of freedom, always: nothing depends on what else is
    computed in the same call.

    Args:
        degrees_of_freedom: shape (sets, k), infinity allowed.
        draws: number of draws.

    Returns:
        Normals, shape (draws, k), and scales sqrt(nu / chi-square), shape (sets, draws, k).
    """
    count = degrees_of_freedom.shape[1]
    normals = np.random.default_rng([_DIRECTION_SEED, count]).standard_normal((draws, count))
    scales = np.empty((degrees_of_freedom.shape[0], draws, count))
    for index, df in enumerate(degrees_of_freedom):
        stream = np.random.default_rng([_SCALE_SEED, count])
        half = np.where(np.isinf(df), 1.0, df) / 2
        ratios = half / np.maximum(stream.standard_gamma(half, (draws, count)), 1e-300)
        scales[index] = np.sqrt(np.where(np.isinf(df), 1.0, ratios))
    return normals, scales


def quadratic_tail(
    statistic: FloatArray, normals: FloatArray, scales: FloatArray, basis: FloatArray
) -> FloatArray:
    """Returns P(|B' t|^2 >= statistic) for independent t values, basis B orthonormal.

    A normal vector is a direction times an independent chi-distributed length. For each drawn
    direction and scale the chance over the length is exact, so the mean over draws is smooth
    and reaches far into the tail.

    Args:
        statistic: shape (sets,).
        normals: from `student_draws`, shape (draws, k).
        scales: from `student_draws`, shape (sets, draws, k).
        basis: orthonormal columns, shape (sets, k, rank).

    Returns:
        p values, shape (sets,).
    """
    count = normals.shape[1]
    directions = normals / np.linalg.norm(normals, axis=1, keepdims=True)
    lengths = (((directions * scales) @ basis) ** 2).sum(axis=2)
    tails = gammaincc(count / 2, statistic[:, None] / (2 * np.maximum(lengths, 1e-300)))
    return np.asarray(tails.mean(axis=1), dtype=np.float64)


def largest_quantile(
    weights: FloatArray, normals: FloatArray, scales: FloatArray, level: float
) -> FloatArray:
    """Returns the quantile of the largest |w' t| over several weight vectors of unit length.

    Args:
        weights: shape (sets, contrasts, k), each contrast of unit length.
        normals: from `student_draws`, shape (draws, k).
        scales: from `student_draws`, shape (sets, draws, k).
        level: simultaneous coverage.

    Returns:
        Critical values, shape (sets,).
    """
    values = (normals * scales) @ np.swapaxes(weights, 1, 2)
    return np.asarray(np.quantile(np.abs(values).max(axis=2), level, axis=1), dtype=np.float64)
