"""Tails and quantiles of the laws that tests and intervals rest on.

Each is the function of ``scipy.special`` that ``scipy.stats`` calls for the same law, so the digits
are the same; loading ``scipy.stats`` itself would take longer than building a small study's tables.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import chdtrc, chdtri, fdtrc, fdtri, ndtri, stdtr, stdtrit

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray


def normal_upper(tail: ArrayLike) -> FloatArray:
    """Returns the standard normal value that is exceeded with probability ``tail``."""
    value: FloatArray = -ndtri(tail)
    return value


def student_tail(t: ArrayLike, df: ArrayLike) -> FloatArray:
    """Returns the probability that Student's t exceeds a value; df may be infinite."""
    value: FloatArray = stdtr(df, np.negative(t))
    return value


def student_upper(tail: ArrayLike, df: ArrayLike) -> FloatArray:
    """Returns the value that Student's t exceeds with probability ``tail``, above 0 and below 1.

    df may be infinite.
    """
    value: FloatArray = -stdtrit(df, tail)
    return value


def chi_square_tail(value: ArrayLike, df: ArrayLike) -> FloatArray:
    """Returns the probability that chi-square exceeds a value, which is not below zero."""
    tail: FloatArray = chdtrc(df, value)
    return tail


def chi_square_upper(tail: ArrayLike, df: ArrayLike) -> FloatArray:
    """Returns the value that chi-square exceeds with probability ``tail``."""
    value: FloatArray = chdtri(df, tail)
    return value


def f_tail(value: ArrayLike, df_above: ArrayLike, df_below: ArrayLike) -> FloatArray:
    """Returns the probability that F exceeds a value, which is not below zero."""
    tail: FloatArray = fdtrc(df_above, df_below, value)
    return tail


def f_upper(tail: float, df_above: ArrayLike, df_below: ArrayLike) -> FloatArray:
    """Returns the value that F exceeds with probability ``tail``, above 0 and below 1."""
    value: FloatArray = fdtri(df_above, df_below, 1 - tail)
    return value
