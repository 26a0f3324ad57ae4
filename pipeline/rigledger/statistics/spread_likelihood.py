"""What the residual sum of squares of a cell says about its ln σ."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import digamma, polygamma

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray


def log_likelihood(
    ln_sd: FloatArray, df: FloatArray, squares: FloatArray, floor: FloatArray
) -> FloatArray:
    """Log likelihood of ln σ, up to a constant, from a sum of squares of normal residuals.

    squares / (σ² + floor) follows a χ² law with df degrees of freedom. All arguments broadcast;
    df may be 0 (then the likelihood is flat).
    """
    variance = np.exp(2.0 * ln_sd) + floor
    value: FloatArray = -0.5 * (df * np.log(variance) + squares / variance)
    return value


def normal_approximation(
    df: FloatArray, squares: FloatArray, floor: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Mean and variance of ln s about ln σ: moments of a log χ² variate (Smyth 2004, eq. 11).

    Returns:
        An estimate of ln σ, and its variance (large where df is 0). Shapes as the arguments.
    """
    half = np.maximum(df, 1.0) / 2.0
    variance = np.maximum(squares / np.maximum(df, 1.0) - floor, 0.25 * floor)
    centre = 0.5 * (np.log(variance) + np.log(half) - digamma(half))
    spread = 0.25 * polygamma(1, half)
    return centre, np.where(df > 0, spread, 1e6)
