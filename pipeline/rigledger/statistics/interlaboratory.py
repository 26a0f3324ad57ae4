"""Agreement between contributors who measured the same configuration and workload.

Here a *laboratory* of the standards is a contributor's rig and a *replicate* a run.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar

import numpy as np
from scipy.special import chdtr, chdtrc

from rigledger.statistics.checks import NoVarianceError, finite, one_dimensional, probability
from rigledger.statistics.errors import ShapeError, StatisticsError
from rigledger.statistics.laws import f_upper, normal_upper, student_upper

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray

# ISO 13528:2015, C.3: winsorise at 1.5 robust standard deviations.
_WINSORISE_AT = 1.5
# 1 / Phi^-1(3/4): makes the median absolute deviation estimate a normal standard deviation.
_MAD_TO_SD = 1 / float(normal_upper(0.25))
# The variance of a normal value winsorised at 1.5: what the restored sd is divided by.
_WINSORISED_VARIANCE = float(
    chdtr(3, _WINSORISE_AT**2) + _WINSORISE_AT**2 * chdtrc(1, _WINSORISE_AT**2)
)


class NoRobustConvergenceError(StatisticsError):
    """The robust iteration did not settle."""

    code: ClassVar[str] = "no_robust_convergence"


@dataclass(frozen=True)
class Precision:
    """Repeatability and reproducibility of one quantity over p laboratories, n runs each.

    All in the unit of the values, but h, k (without unit).

    Attributes:
        cell_means: shape (p,).
        cell_sds: shape (p,), divisor n - 1.
        mean: mean of the cell means.
        sd_of_means: their standard deviation.
        repeatability_sd: s_r, run to run within a laboratory.
        between_sd: s_L, between laboratories; zero where the runs alone explain the means.
        reproducibility_sd: s_R, never below s_r.
        repeatability_limit: 2.8 s_r, the difference that two runs exceed once in twenty.
        reproducibility_limit: 2.8 s_R.
        h: (cell mean - mean) / sd_of_means, shape (p,).
        k: cell sd / s_r, shape (p,).
    """

    cell_means: FloatArray
    cell_sds: FloatArray
    mean: float
    sd_of_means: float
    repeatability_sd: float
    between_sd: float
    reproducibility_sd: float
    repeatability_limit: float
    reproducibility_limit: float
    h: FloatArray
    k: FloatArray


@dataclass(frozen=True)
class RobustLocation:
    """A robust mean and standard deviation, in the unit of the values."""

    mean: float
    sd: float


def precision(laboratories: ArrayLike) -> Precision:
    """Returns the cell statistics of a balanced interlaboratory study.

    ASTM E691; ISO 5725-2: s_r^2 = mean of the cell variances, s_R^2 = s_means^2 +
    s_r^2 (n - 1) / n, never below s_r^2.

    Args:
        laboratories: one row per laboratory, one column per run, shape (p, n), both at least 2.

    Raises:
        ShapeError: not two dimensions, or fewer than two rows or columns.
        NotFiniteError: a value is NaN or infinite.
        NoVarianceError: every run, or every cell mean, is equal.
    """
    rows = finite(laboratories, "laboratories")
    if rows.ndim != 2 or min(rows.shape) < 2:
        raise ShapeError("laboratories", rows.shape, "at least 2 laboratories by 2 runs")
    replicates = rows.shape[1]
    means, sds = rows.mean(axis=1), rows.std(axis=1, ddof=1)
    within = float((sds**2).mean())
    of_means = float(means.var(ddof=1))
    if within == 0 or of_means == 0:
        raise NoVarianceError("laboratories")
    between = max(0.0, of_means - within / replicates)
    return Precision(
        cell_means=means,
        cell_sds=sds,
        mean=float(means.mean()),
        sd_of_means=of_means**0.5,
        repeatability_sd=within**0.5,
        between_sd=between**0.5,
        reproducibility_sd=(within + between) ** 0.5,
        repeatability_limit=2.8 * within**0.5,
        reproducibility_limit=2.8 * (within + between) ** 0.5,
        h=(means - means.mean()) / of_means**0.5,
        k=sds / within**0.5,
    )


def h_critical(laboratories: int, level: float = 0.005) -> float:
    """Returns the value that |h| of a laboratory exceeds with probability ``level``.

    ASTM E691; Wilrich PT (2013), AStA Adv Stat Anal 97(1):1-10: from Student's t.

    Args:
        laboratories: p, at least 3.
        level: two-sided, for one laboratory; the standard uses 0.5 %.

    Raises:
        OutOfRangeError, ShapeError: as they say.
    """
    _counts(laboratories, 3, "laboratories")
    p = laboratories
    t = float(student_upper(probability(level, "level") / 2, p - 2))
    return (p - 1) * t / float((p * (t**2 + p - 2)) ** 0.5)


def k_critical(laboratories: int, replicates: int, level: float = 0.005) -> float:
    """Returns the value that k of a laboratory exceeds with probability ``level``.

    ASTM E691; Wilrich PT (2013), AStA Adv Stat Anal 97(1):1-10: from F.

    Args:
        laboratories: p, at least 2.
        replicates: n runs each, at least 2.
        level: one-sided, for one laboratory; the standard uses 0.5 %.

    Raises:
        OutOfRangeError, ShapeError: as they say.
    """
    _counts(laboratories, 2, "laboratories")
    _counts(replicates, 2, "replicates")
    p, df = laboratories, replicates - 1
    f = float(f_upper(probability(level, "level"), df, (p - 1) * df))
    return float((p / (1 + (p - 1) / f)) ** 0.5)


def algorithm_a(values: ArrayLike, *, max_steps: int | None = None) -> RobustLocation:
    """Returns the robust mean and standard deviation of Algorithm A.

    ISO 13528:2015, C.3, with exact constants instead of the rounded 1.483 and 1.134 and
    iterated until nothing moves: start at the median and the scaled median absolute
    deviation; winsorise at 1.5 sd; take mean and corrected sd; repeat.

    Args:
        values: one dimension, at least 2.
        max_steps: stop after so many steps, to look at the iteration; None until it settles.

    Returns:
        The robust mean and sd. If more than half of the values are equal, the sd is zero.

    Raises:
        TooFewValuesError, NotFiniteError, ShapeError: as they say.
        NoRobustConvergenceError: it did not settle in 10,000 steps.
    """
    sample = one_dimensional(finite(values, "values", at_least=2), "values")
    mean = float(np.median(sample))
    sd = _MAD_TO_SD * float(np.median(np.abs(sample - mean)))
    for _ in range(10_000 if max_steps is None else max_steps):
        moved = _winsorised(sample, mean, sd)
        settled = max(abs(moved.mean - mean), abs(moved.sd - sd)) <= 1e-14 * abs(sd)
        mean, sd = moved.mean, moved.sd
        if settled:
            return moved
    if max_steps is None:
        raise NoRobustConvergenceError("values: Algorithm A did not settle in 10,000 steps")
    return RobustLocation(mean, sd)


def robust_z(values: ArrayLike) -> FloatArray:
    """Returns each value's z score against Algorithm A's mean and sd (ISO 13528:2015, 9.4).

    Args:
        values: one per laboratory, shape (p,).

    Raises:
        TooFewValuesError, NotFiniteError, ShapeError: as they say.
        NoVarianceError: the robust sd is zero, so no score is defined.
    """
    sample = finite(values, "values")
    location = algorithm_a(sample)
    if location.sd == 0:
        raise NoVarianceError("values")
    return (sample - location.mean) / location.sd


def _winsorised(sample: FloatArray, mean: float, sd: float) -> RobustLocation:
    reach = _WINSORISE_AT * sd
    clipped = np.clip(sample, mean - reach, mean + reach)
    variance = float(clipped.var(ddof=1)) / _WINSORISED_VARIANCE
    return RobustLocation(float(clipped.mean()), variance**0.5)


def _counts(count: int, needed: int, name: str) -> None:
    if count < needed:
        raise ShapeError(name, (count,), f"at least {needed}")
