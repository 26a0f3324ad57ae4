"""What rounding of reported values does to a cell's mean and spread.

A value reported in steps carries an error that is uniform over one step: variance step²/12. When
runs differ by much more than a step these errors are independent and average out; when runs agree
to within a step they are the same error every time and don't.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray


def step_variance(step: FloatArray, value: FloatArray) -> FloatArray:
    """Variance of the rounding error of ln(value): (step / value)² / 12 (Sheppard 1898)."""
    variance: FloatArray = (step / value) ** 2 / 12.0
    return variance


def error_correlation(variance: FloatArray, floor: FloatArray) -> FloatArray:
    """Correlation of the rounding errors of two runs with the same mean.

    The rounding error is a sawtooth; its Fourier series over a normal run-to-run error with
    variance v, averaged over where the mean lies within a step, gives
    (6/π²) Σ exp(-k² c) / k² with c = π² v / (3 floor), floor = step²/12. It is 1 for v = 0 and
    vanishes once σ exceeds half a step. For c below 1 the sum is π²/6 - √(πc) + c/2 to four digits
    (Poisson summation), above it three terms are enough.

    Args:
        variance: run-to-run variance without rounding; any shape.
        floor: step²/12; broadcasts with `variance`; 0 means no rounding.
    """
    ratio = np.where(floor > 0.0, variance / np.where(floor > 0.0, floor, 1.0), np.inf)
    c = ratio * (np.pi**2 / 3.0)
    series = np.exp(-c) + np.exp(-4.0 * c) / 4.0 + np.exp(-9.0 * c) / 9.0
    small = np.minimum(c, 1.0)
    near = np.pi**2 / 6.0 - np.sqrt(np.pi * small) + 0.5 * small
    return np.asarray(np.where(c < 1.0, near, series) * (6.0 / np.pi**2), dtype=np.float64)


def variance_of_mean(variance: FloatArray, floor: FloatArray, share: FloatArray) -> FloatArray:
    """Variance of a (weighted) mean of runs, rounding included.

    Args:
        variance: run-to-run variance without rounding.
        floor: step²/12 of one run.
        share: sum of the squared weights of the runs, 1/n for a plain mean of n.

    Returns:
        share × variance plus the rounding error's variance, which lies between share × floor
        (σ far above the step) and floor (σ far below it). All arguments broadcast.
    """
    common = error_correlation(variance, floor)
    mean: FloatArray = share * variance + floor * (share + (1.0 - share) * common)
    return mean
