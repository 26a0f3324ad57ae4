"""Mean, spread and one-way analysis of variance that keep their digits."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.checks import NoVarianceError, finite, one_dimensional
from rigledger.statistics.errors import TooFewValuesError
from rigledger.statistics.laws import f_tail

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray


@dataclass(frozen=True)
class AnalysisOfVariance:
    """A one-way analysis of variance; squares in the unit of the values, squared.

    Attributes:
        df_between: groups - 1.
        ss_between: sum of squares between groups.
        ms_between: mean square between groups.
        df_within: values - groups.
        ss_within: sum of squares within groups.
        ms_within: mean square within groups.
        f: ratio of the mean squares.
        p: upper tail of F.
        r_squared: share of the sum of squares that lies between groups.
        residual_sd: square root of ``ms_within``.
    """

    df_between: int
    ss_between: float
    ms_between: float
    df_within: int
    ss_within: float
    ms_within: float
    f: float
    p: float
    r_squared: float
    residual_sd: float

    def between_variance(self, group_size: int) -> float:
        """Returns the variance component between groups of one size, never below zero.

        The analysis-of-variance estimate, which equals REML in balanced data.
        """
        return max(0.0, (self.ms_between - self.ms_within) / group_size)


def mean(values: ArrayLike) -> float:
    """Returns the arithmetic mean, summed exactly.

    Raises:
        TooFewValuesError, NotFiniteError, ShapeError: as they say.
    """
    sample = _sample(values, 1)
    return math.fsum(sample) / sample.size


def standard_deviation(values: ArrayLike) -> float:
    """Returns the sample standard deviation (divisor n - 1), in two passes.

    Raises:
        TooFewValuesError: fewer than two values.
        NotFiniteError, ShapeError: as they say.
    """
    sample = _sample(values, 2)
    return math.sqrt(_squares(sample) / (sample.size - 1))


def autocorrelation(values: ArrayLike) -> float:
    """Returns the lag-1 autocorrelation about the mean, as NIST defines it.

    sum((y[t] - m)(y[t+1] - m)) / sum((y[t] - m)^2).

    Raises:
        TooFewValuesError, NotFiniteError, ShapeError: as they say.
        NoVarianceError: all values are equal.
    """
    sample = _sample(values, 2)
    centred = sample - mean(sample)
    squares = math.fsum(centred**2)
    if squares == 0:
        raise NoVarianceError("values")
    return math.fsum(centred[:-1] * centred[1:]) / squares


def analysis_of_variance(groups: Sequence[ArrayLike]) -> AnalysisOfVariance:
    """Returns the one-way analysis of variance of two or more groups.

    Args:
        groups: one array per group, sizes may differ.

    Raises:
        TooFewValuesError: fewer than two groups, an empty group, or no value to spare.
        NotFiniteError, ShapeError: as they say.
        NoVarianceError: no spread within any group.
    """
    if len(groups) < 2:
        raise TooFewValuesError("groups", len(groups), 2)
    samples = [_sample(group, 1) for group in groups]
    pooled = np.concatenate(samples)
    df_between, df_within = len(samples) - 1, pooled.size - len(samples)
    if df_within < 1:
        raise TooFewValuesError("values", pooled.size, len(samples) + 1)
    # Centring first keeps the digits of values that share their leading ones.
    centre = mean(pooled)
    between = math.fsum(part.size * mean(part - centre) ** 2 for part in samples)
    within = math.fsum(_squares(part - centre) for part in samples)
    if within == 0:
        raise NoVarianceError("groups")
    f = (between / df_between) / (within / df_within)
    return AnalysisOfVariance(
        df_between=df_between,
        ss_between=between,
        ms_between=between / df_between,
        df_within=df_within,
        ss_within=within,
        ms_within=within / df_within,
        f=f,
        p=float(f_tail(f, df_between, df_within)),
        r_squared=between / (between + within),
        residual_sd=math.sqrt(within / df_within),
    )


def _sample(values: ArrayLike, at_least: int) -> FloatArray:
    return one_dimensional(finite(values, "values", at_least=at_least), "values")


def _squares(sample: FloatArray) -> float:
    centred = sample - mean(sample)
    # The second term removes what rounding left in the mean (Chan, Golub, LeVeque 1983).
    return math.fsum(centred**2) - math.fsum(centred) ** 2 / sample.size
