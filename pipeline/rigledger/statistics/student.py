"""Student's and Welch's t for two samples, and two one-sided tests: the baselines.

Sources: Student (1908), Biometrika 6, 1-25; Welch (1947), Biometrika 34, 28-35; Schuirmann (1987),
J Pharmacokinet Biopharm 15, 657-680.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy.special import stdtr, stdtrit

from rigledger.statistics.comparison_errors import ArrayShapeError, ValueNotPositiveError

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray

Kind = Literal["welch", "pooled", "paired"]


@dataclass(frozen=True)
class Difference:
    """A difference of means with its standard error and degrees of freedom. Shapes (rows,)."""

    estimate: FloatArray
    se: FloatArray
    df: FloatArray

    def t(self) -> FloatArray:
        """The t statistic of no difference."""
        ratio: FloatArray = self.estimate / self.se
        return ratio

    def p(self) -> FloatArray:
        """Two-sided p value of no difference."""
        value: FloatArray = 2.0 * stdtr(self.df, -np.abs(self.t()))
        return value

    def half_width(self, level: float) -> FloatArray:
        """Half the width of the central interval of the given level."""
        half: FloatArray = stdtrit(self.df, 0.5 + level / 2.0) * self.se
        return half


@dataclass(frozen=True)
class Equivalence:
    """Two one-sided tests: p of lying below the upper and above the lower limit, and the larger."""

    p_above_low: FloatArray
    p_below_high: FloatArray
    p: FloatArray


def difference(from_values: FloatArray, to_values: FloatArray, kind: Kind = "welch") -> Difference:
    """Difference of means, to minus from, along the last axis.

    Args:
        from_values: shape (..., n), n at least 2.
        to_values: shape (..., m), m at least 2; m = n for `paired`.
        kind: `welch` (unequal variances), `pooled` (equal), `paired`.

    Raises:
        ArrayShapeError: fewer than two values, or unequal numbers of pairs.
        ValueNotPositiveError: no spread at all: the standard error would be zero.
    """
    a, b = np.asarray(from_values, float), np.asarray(to_values, float)
    n, m = a.shape[-1], b.shape[-1]
    if min(n, m) < 2 or (kind == "paired" and n != m):
        raise ArrayShapeError("to_values", -1, f"{n} and {m} values: too few, or not in pairs")
    va, vb = a.var(axis=-1, ddof=1) / n, b.var(axis=-1, ddof=1) / m
    if kind == "paired":
        squared, df = (b - a).var(axis=-1, ddof=1) / n, np.full(va.shape, n - 1.0)
    elif kind == "pooled":
        pooled = (va * n * (n - 1) + vb * m * (m - 1)) / (n + m - 2)
        squared, df = pooled * (1 / n + 1 / m), np.full(va.shape, n + m - 2.0)
    else:
        squared = va + vb
        below = va**2 / (n - 1) + vb**2 / (m - 1)
        df = squared**2 / np.where(below > 0, below, 1.0)
    if np.any(squared <= 0):
        raise ValueNotPositiveError("to_values", -1, "no spread on either side")
    return Difference(b.mean(axis=-1) - a.mean(axis=-1), np.sqrt(squared), df)


def two_one_sided(
    estimate: FloatArray, se: FloatArray, df: FloatArray, limits: tuple[float, float]
) -> Equivalence:
    """Schuirmann's two one-sided t tests against a lower and an upper limit."""
    above = stdtr(df, -(estimate - limits[0]) / se)
    below = stdtr(df, (estimate - limits[1]) / se)
    return Equivalence(above, below, np.maximum(above, below))
