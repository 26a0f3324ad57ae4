"""Estimates with their intervals at any level, and how many of them are looked at.

Every estimate is a logarithm with the distances to the ends of its 95 % interval. The end at
another level follows from Student's t: with the degrees of freedom that both published intervals
(90 % and 95 %) imply, or, where only one is published, cautiously: the normal law inside the 95 %
interval and four degrees of freedom (two cells of three runs) outside of it. Intervals of a study
that may add rounds are the wider ones on which its decisions rest.

Where several estimates are looked at together, each end is that of Sidak's level,
1 - (1 - a)^(1/m): Sidak Z (1967), J Am Stat Assoc 62(318):626-633; exact for independent ones,
cautious for ones that share runs.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import stdtrit

from rigledger.statistics.small_sample import matched_student

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from rigledger.claims.evidence import Row

    FloatArray = NDArray[np.float64]

_FEW_DF = 4.0
_WIDE = 0.025


@dataclass(frozen=True)
class Points:
    """Estimates on the ln scale, of shape (m,) each.

    Attributes:
        rows: The rows that they come from.
        ln: Estimates.
        below: Distance to the lower end of the 95 % interval.
        above: Distance to its upper end.
        df_inside: Degrees of freedom for intervals narrower than 95 %.
        df_outside: For wider ones.
        times: What exp(ln) is multiplied with to give the figure.
        minus: What is then subtracted: 100 times and minus 100 give a change in per cent.
    """

    rows: tuple[Row, ...]
    ln: FloatArray
    below: FloatArray
    above: FloatArray
    df_inside: FloatArray
    df_outside: FloatArray
    times: float = 100.0
    minus: float = 100.0

    def __len__(self) -> int:
        """Give the number of estimates."""
        return len(self.rows)

    @property
    def figure(self) -> FloatArray:
        """The estimates in their own unit."""
        return self.times * np.exp(self.ln) - self.minus

    def low(self, alpha: float) -> FloatArray:
        """Lower ends, each missed from above with probability alpha; in the figures' unit."""
        ends = self.ln - self.below * self._ratio(alpha)
        return np.asarray(self.times * np.exp(ends) - self.minus)

    def high(self, alpha: float) -> FloatArray:
        """Upper ends, likewise."""
        # A hopelessly noisy cell stays a finite number, however large.
        ends = np.minimum(self.ln + self.above * self._ratio(alpha), 300.0)
        return np.asarray(self.times * np.exp(ends) - self.minus)

    def each(self, alpha: float) -> float:
        """Give the one-sided level of each end, so that all ends together miss with 2 alpha."""
        return -float(np.expm1(np.log1p(-2 * alpha) / max(len(self), 1))) / 2

    def _ratio(self, alpha: float) -> FloatArray:
        df = self.df_outside if alpha < _WIDE else self.df_inside
        return np.asarray(stdtrit(df, alpha) / stdtrit(df, _WIDE))


def change_points(rows: Sequence[Row]) -> Points:
    """Take the changes of comparisons; each must have its intervals."""
    ln, high_90, high_95, decision = (
        _ln(rows, name)
        for name in ("change_pct", "high_90_pct", "high_95_pct", "high_decision_pct")
    )
    half_95 = np.maximum(high_95 - ln, 1e-12)
    half_90 = np.maximum(high_90 - ln, 1e-13)
    # Where rounds may be added, the wider interval of the decision stands for the plain one.
    wider = np.where(np.isnan(decision), half_95, np.maximum(decision - ln, half_95))
    df = matched_student(half_90, half_95)[1] if len(rows) else half_95
    return Points(tuple(rows), ln, wider, wider, df, df)


def interval_points(
    rows: Sequence[Row],
    names: tuple[str, str, str],
    widened: FloatArray | None = None,
) -> Points:
    """Take estimates of which only the 95 % interval is published.

    Args:
        rows: The rows.
        names: Columns of the estimate and the two ends, in per cent.
        widened: Factors of the interval's half-widths, shape (rows,); None for none.
    """
    ln, low, high = (_ln(rows, name) for name in names)
    wide = np.ones(len(rows)) if widened is None else widened
    inside, outside = np.full(len(rows), np.inf), np.full(len(rows), _FEW_DF)
    return Points(tuple(rows), ln, (ln - low) * wide, (high - ln) * wide, inside, outside)


def value_points(rows: Sequence[Row]) -> Points:
    """Take the values of cells, in their own unit."""
    ln, low, high = (
        np.log([float(row[name]) for row in rows])
        for name in ("geometric_mean", "low_95", "high_95")
    )
    inside, outside = np.full(len(rows), np.inf), np.full(len(rows), _FEW_DF)
    return Points(tuple(rows), ln, ln - low, high - ln, inside, outside, 1.0, 0.0)


def _ln(rows: Sequence[Row], name: str) -> FloatArray:
    values = np.array([np.nan if row[name] is None else row[name] for row in rows], dtype=float)
    # In per cent the lower end of a hopelessly noisy cell rounds to -100.
    return np.asarray(np.log1p(np.maximum(values, -100 + 1e-9) / 100))
