"""Classical outlier tests, offered beside the doubtful-run rule, never in place of it.

At three runs they mostly find two runs that agree by chance: prefer ``doubt``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import optimize, special, stats

from rigledger.statistics.checks import NoVarianceError, finite, one_dimensional, probability
from rigledger.statistics.errors import OutOfRangeError, TooFewValuesError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray

Sides = Literal[1, 2]


@dataclass(frozen=True)
class OutlierTest:
    """One suspect value and how far out it lies.

    Attributes:
        position: index of the suspect.
        statistic: Grubbs's G or Dixon's Q.
        p: chance of a statistic at least as large when all values are normal with one spread.
    """

    position: int
    statistic: float
    p: float


@dataclass(frozen=True)
class GeneralisedEsd:
    """The steps of the generalised extreme studentised deviate procedure.

    Attributes:
        statistics: R_i, shape (r,).
        critical: lambda_i, shape (r,).
        positions: index of the value set aside at step i.
        outliers: number of outliers: the largest i with R_i above lambda_i.
    """

    statistics: FloatArray
    critical: FloatArray
    positions: tuple[int, ...]
    outliers: int


def grubbs_critical(count: int, alpha: float = 0.05, sides: Sides = 2) -> float:
    """Returns the value of G exceeded with probability alpha (Grubbs 1950, by way of t).

    G = (n - 1) / sqrt(n) * sqrt(t^2 / (n - 2 + t^2)), t the upper alpha / (sides * n) point
    with n - 2 degrees of freedom: Grubbs FE (1950), Ann Math Stat 21(1):27-58; Grubbs FE,
    Beck G (1972), Technometrics 14(4):847-854.

    Args:
        count: number of values, at least 3.
        alpha: rate of false alarms.
        sides: 1 if the suspect side was chosen before seeing the data, else 2.

    Raises:
        TooFewValuesError: fewer than three values.
        OutOfRangeError: alpha is not between 0 and 1.
    """
    _count(count)
    tail = probability(alpha, "alpha") / (sides * count)
    return _scaled_t(float(stats.t.isf(tail, count - 2)), count)


def grubbs(values: ArrayLike, sides: Sides = 2) -> OutlierTest:
    """Returns Grubbs's test of the value farthest from the mean.

    Args:
        values: one dimension, at least 3, approximately normal apart from the suspect.
        sides: 1 if the suspect side was chosen before seeing the data, else 2; the p value
            of the farther side is given either way.

    Raises:
        TooFewValuesError, NotFiniteError, ShapeError: as they say.
        NoVarianceError: all values are equal.
    """
    sample = _sample(values)
    n = sample.size
    position, g = _extreme(sample)
    # G cannot exceed (n - 1) / sqrt(n); there t is infinite and p zero.
    room = (n - 1) ** 2 - n * g**2
    t = np.inf if room <= 0 else (n * (n - 2) * g**2 / room) ** 0.5
    return OutlierTest(position, g, min(1.0, sides * n * float(stats.t.sf(t, n - 2))))


def generalised_esd(values: ArrayLike, max_outliers: int, *, alpha: float = 0.05) -> GeneralisedEsd:
    """Returns Rosner's procedure for up to a stated number of outliers.

    Rosner B (1983), Percentage points for a generalized ESD many-outlier procedure,
    Technometrics 25(2):165-172. Accurate from about 15 values up.

    Args:
        values: one dimension, at least ``max_outliers + 3``.
        max_outliers: the most outliers looked for, at least 1.
        alpha: rate of false alarms.

    Raises:
        TooFewValuesError, NotFiniteError, ShapeError, OutOfRangeError: as they say.
        NoVarianceError: all values left are equal.
    """
    if max_outliers < 1:
        raise OutOfRangeError("max_outliers", max_outliers, "1 or more")
    sample = one_dimensional(finite(values, "values", at_least=max_outliers + 3), "values")
    left = np.arange(sample.size)
    statistics, positions = [], []
    for _ in range(max_outliers):
        inner, distance = _extreme(sample[left])
        statistics.append(distance)
        positions.append(int(left[inner]))
        left = np.delete(left, inner)
    critical = [grubbs_critical(sample.size - step, alpha, 2) for step in range(max_outliers)]
    above = np.flatnonzero(np.array(statistics) > np.array(critical))
    return GeneralisedEsd(
        statistics=np.array(statistics),
        critical=np.array(critical),
        positions=tuple(positions),
        outliers=int(above[-1]) + 1 if above.size else 0,
    )


def dixon_r10(values: ArrayLike) -> OutlierTest:
    """Returns Dixon's r10 (gap over range) for the end of the sample with the wider gap.

    Dixon WJ (1951), Ratios involving extreme values, Ann Math Stat 22(1):68-78; Rorabacher DB
    (1991), Anal Chem 63(2):139-146. The p value is two-sided and computed from the law of
    normal order statistics; the printed tables are uncertain in their third digit.

    Args:
        values: one dimension, 3 to 30 values.

    Raises:
        TooFewValuesError, NotFiniteError, ShapeError, OutOfRangeError: as they say.
        NoVarianceError: all values are equal.
    """
    sample = _sample(values)
    order = np.argsort(sample, kind="stable")
    ranked = sample[order]
    reach = float(ranked[-1] - ranked[0])
    if reach == 0:
        raise NoVarianceError("values")
    low, high = float(ranked[1] - ranked[0]), float(ranked[-1] - ranked[-2])
    position, gap = (order[-1], high) if high > low else (order[0], low)
    p = min(1.0, 2 * _dixon_tail(gap / reach, sample.size))
    return OutlierTest(int(position), gap / reach, p)


@cache
def dixon_r10_critical(count: int, alpha: float = 0.05) -> float:
    """Returns the r10 exceeded, on either side, with probability alpha in a normal sample.

    Args:
        count: number of values, 3 to 30.
        alpha: two-sided rate of false alarms.

    Raises:
        TooFewValuesError, OutOfRangeError: as they say.
    """
    _count(count)
    tail = probability(alpha, "alpha") / 2
    return float(optimize.brentq(lambda r: _dixon_tail(r, count) - tail, 1e-9, 1 - 1e-12))


def cochran_critical(groups: int, replicates: int, alpha: float = 0.05) -> float:
    """Returns the critical share of the largest of several variances in their sum.

    Cochran WG (1941), The distribution of the largest of a set of estimated variances as a
    fraction of their total, Ann Eugen 11:47-52; ISO 5725-2 uses the same test. Upper bound by
    way of F, exact to the digits that tables print at small alpha.

    Args:
        groups: number of variances, at least 2.
        replicates: values behind each variance, at least 2.
        alpha: rate of false alarms.

    Raises:
        TooFewValuesError, OutOfRangeError: as they say.
    """
    for name, count in (("groups", groups), ("replicates", replicates)):
        if count < 2:
            raise TooFewValuesError(name, count, 2)
    df = replicates - 1
    f = float(stats.f.isf(probability(alpha, "alpha") / groups, df, (groups - 1) * df))
    return 1 / (1 + (groups - 1) / f)


def _sample(values: ArrayLike) -> FloatArray:
    return one_dimensional(finite(values, "values", at_least=3), "values")


def _count(count: int) -> None:
    if count < 3:
        raise TooFewValuesError("values", count, 3)


def _scaled_t(t: float, n: int) -> float:
    return float((n - 1) / n**0.5 * (t**2 / (n - 2 + t**2)) ** 0.5)


def _extreme(sample: FloatArray) -> tuple[int, float]:
    spread = float(sample.std(ddof=1))
    if spread == 0 or np.ptp(sample) == 0:
        raise NoVarianceError("values")
    distances = np.abs(sample - sample.mean())
    position = int(distances.argmax())
    return position, float(distances[position]) / spread


def _dixon_tail(ratio: float, n: int) -> float:
    """Chance that (largest - second) / range of n normal values exceeds the ratio.

    Given the smallest value a and the largest a + w, the other n - 2 lie between them
    independently; all must lie below a + (1 - ratio) w. Integrated by Gauss-Legendre rule.
    """
    if n > 30:
        raise OutOfRangeError("values", n, "at most 30 for Dixon's r10")
    nodes, weights = _gauss_legendre()
    low, low_weight = 9 * nodes, 9 * weights
    width, width_weight = 8 * (nodes + 1), 8 * weights
    a, w = low[:, None], width[None, :]
    between = special.ndtr(a + (1 - ratio) * w) - special.ndtr(a)
    density = np.exp(-0.5 * (a**2 + (a + w) ** 2)) / (2 * np.pi) * between ** (n - 2)
    return float(n * (n - 1) * (low_weight @ density @ width_weight))


@cache
def _gauss_legendre() -> tuple[FloatArray, FloatArray]:
    return np.polynomial.legendre.leggauss(160)
