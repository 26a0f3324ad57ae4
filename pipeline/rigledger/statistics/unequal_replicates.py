"""Precision and consistency where contributors have different numbers of runs.

The standards' balanced formulas are in `interlaboratory`; these reduce to them where the numbers
are equal.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.checks import NoVarianceError, finite, positive, same_shape
from rigledger.statistics.errors import ShapeError
from rigledger.statistics.laws import f_tail

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray


@dataclass(frozen=True)
class UnequalPrecision:
    """Repeatability and reproducibility, in the unit of the values.

    Attributes:
        mean: mean of all values, so that a laboratory counts as often as it has runs.
        repeatability_sd: s_r.
        between_sd: s_L; zero where the runs alone explain the means.
        reproducibility_sd: s_R.
    """

    mean: float
    repeatability_sd: float
    between_sd: float
    reproducibility_sd: float


def unequal_precision(laboratories: Sequence[ArrayLike]) -> UnequalPrecision:
    """Returns the precision of an interlaboratory study with unequal numbers of runs.

    ISO 5725-2:1994, 7.4.4 and 7.4.5: s_r^2 pooled by degrees of freedom, s_L^2 from the mean
    square between laboratories and the effective number of runs; zero where it is negative.

    Args:
        laboratories: the runs of each laboratory, shape (n_i,) each; at least 2 laboratories.

    Raises:
        ShapeError: fewer than two laboratories, or none with two runs.
        NotFiniteError, TooFewValuesError: a value is not finite, or a laboratory has none.
    """
    rows = [finite(runs, "laboratories", at_least=1) for runs in laboratories]
    counts = np.array([row.size for row in rows], dtype=np.float64)
    total, spare = counts.sum(), counts.size - 1
    if spare < 1 or total == counts.size:
        raise ShapeError("laboratories", (counts.size,), "at least 2, of which one has 2 runs")
    means = np.array([row.mean() for row in rows])
    mean = float(counts @ means / total)
    within = sum(float(((row - row.mean()) ** 2).sum()) for row in rows) / (total - counts.size)
    of_means = float(counts @ (means - mean) ** 2) / spare
    effective = (total - float(counts @ counts) / total) / spare
    between = max(0.0, (of_means - within) / effective)
    return UnequalPrecision(
        mean, float(within**0.5), float(between**0.5), float((within + between) ** 0.5)
    )


def within_consistency(
    spreads: ArrayLike, degrees_of_freedom: ArrayLike
) -> tuple[FloatArray, FloatArray]:
    """Returns Mandel's k of each contributor, and the chance of one as large.

    ASTM E691's k is the contributor's standard deviation over the pooled one. Against the others'
    pooled variance its square is an F ratio (Wilrich PT (2013), AStA Adv Stat Anal 97(1):1-10),
    which holds for unequal numbers of runs too.

    Args:
        spreads: standard deviation of each contributor's runs, shape (p,), p at least 2.
        degrees_of_freedom: of each, above zero, shape (p,).

    Returns:
        k and the upper tail probability, shape (p,) each.

    Raises:
        NotFiniteError, OutOfRangeError, ShapeError, TooFewValuesError: as they say.
        NoVarianceError: the others of some contributor have no spread at all.
    """
    held = finite(spreads, "spreads", at_least=2)
    df = positive(degrees_of_freedom, "degrees_of_freedom")
    same_shape([held, df], "degrees_of_freedom")
    squares = df * held**2
    others, others_df = squares.sum() - squares, df.sum() - df
    if (others <= 0).any():
        raise NoVarianceError("spreads")
    k = held / (squares.sum() / df.sum()) ** 0.5
    tail = f_tail(held**2 / (others / others_df), df, others_df)
    return k, np.asarray(tail, dtype=np.float64)
