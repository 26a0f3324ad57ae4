"""Claims on the largest change in a scope: ``up to 12 % slower``.

The largest of many noisy estimates is too large: among forty cells without any change the largest
estimate of the loss lies about two standard errors out. The interval for the true largest change
pays for that at one end only. Its lower end is the largest of the lower ends that hold for all
cells together (Sidak): the true largest is at least as large as every cell's change. Its upper end
is the largest of the cells' own upper ends, unadjusted: the true largest change is that of one
cell, whichever it is, and that cell's own upper end misses it as rarely as any single one does. The
same argument as in multiple comparisons with the best (Hsu JC (1996), Multiple Comparisons,
section 4.1, from memory).

A largest change that only some rigs show, while others are shown to stay below it by more than the
material change in the same workload, is stated too broadly if the sentence doesn't say on which.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rigledger.claims.dependence import dependence
from rigledger.claims.figures import number, signed
from rigledger.claims.found import (
    PASSED,
    Found,
    kept,
    nothing_found,
    place,
    places,
    some_missing,
)
from rigledger.claims.model import BROADER, FAILS, HOLDS, NOT_SETTLED
from rigledger.claims.points import change_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Claim
    from rigledger.claims.points import FloatArray, Points


class Largest:
    """The largest change of a scope in the stated direction, with its interval.

    Attributes:
        points: The changes.
        sign: Sign of the stated direction for each, shape (m,).
    """

    def __init__(self, points: Points, sign: FloatArray) -> None:
        """Take changes and the signs of the stated direction."""
        self.points, self.sign = points, sign

    @property
    def size(self) -> FloatArray:
        """Each change in the stated direction, in per cent."""
        return self.sign * self.points.figure

    @property
    def at(self) -> int:
        """Which estimate is the largest."""
        return int(np.argmax(self.size))

    def at_least(self, alpha: float) -> FloatArray:
        """Lower ends in the stated direction, each missed with probability alpha."""
        return np.where(self.sign > 0, self.points.low(alpha), -self.points.high(alpha))

    def at_most(self, alpha: float) -> FloatArray:
        """Upper ends, likewise."""
        return np.where(self.sign > 0, self.points.high(alpha), -self.points.low(alpha))

    def interval(self, alpha: float) -> tuple[float, float]:
        """Give the interval of the true largest change; each end is missed with alpha at most."""
        together = self.points.each(alpha)
        return float(self.at_least(together).max()), float(self.at_most(alpha).max())

    @property
    def in_place(self) -> NDArray[np.bool_]:
        """Which changes are those of the largest one's workload and resolution, on any rig."""
        names = ("workload", "resolution", "contrast", "metric")
        top = self.points.rows[self.at]
        return np.array([all(row[name] == top[name] for name in names) for row in self.points.rows])

    def below(self, limit: float, alpha: float) -> NDArray[np.bool_]:
        """Which of them are shown to stay below a limit."""
        return self.in_place & (self.at_most(self.points.each(alpha)) < limit)


def judge_largest(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim on the largest change in its scope."""
    rows = evidence.within(evidence.judged, claim.scope)
    missing = evidence.within(evidence.missing, claim.scope)
    if not rows or claim.printed is None:
        return nothing_found(claim, evidence.judged, missing)
    sign = np.array([signed(claim, evidence, row) for row in rows])
    largest = Largest(change_points(rows), sign)
    alpha, depends = dependence(claim, evidence, [rows[largest.at]])
    figures = _figures(largest, missing, alpha)
    stated, half = claim.printed.size, claim.printed.half_unit
    low, high = largest.interval(alpha)
    if low > stated + half or high < stated - half:
        because = (
            f"{_between(largest, low, high)}, which excludes {max(stated - half, 0):.4g} to "
            f"{stated + half:.4g} %: {place(rows[largest.at])}"
        )
        return figures.judged(FAILS, "other_figure", because)
    tolerance = max(evidence.material_change_pct, half)
    below = largest.below(stated - tolerance, alpha)
    if stated > tolerance and (depends is not None or below.any()):
        return _too_broad(figures, largest, below, depends)
    return _near(figures, largest, (stated, tolerance, passed))


def _too_broad(
    figures: Found, largest: Largest, below: NDArray[np.bool_], depends: str | None
) -> Found:
    rows = largest.points.rows
    top = rows[largest.at]
    same = largest.in_place
    others = below if below.any() else same & (np.arange(len(rows)) != largest.at)
    because = f"the largest change is that of {place(top)}; "
    if depends is None:
        rigs = ", ".join(str(row["rig"]) for row in kept(rows, below))
        because += f"there it is shown to be smaller by more than the material change on {rigs}"
    return figures.judged(
        BROADER,
        "cells_disagree" if depends is None else "dependence",
        because + (depends or ""),
        true_of=kept(rows, same & ~others),
        neutral=kept(rows, ~same),
    )


def _near(figures: Found, largest: Largest, asked: tuple[float, float, float]) -> Found:
    stated, tolerance, passed = asked
    rows = largest.points.rows
    low, high = largest.interval(passed)
    if low > stated - tolerance and high < stated + tolerance:
        because = (
            f"{_between(largest, low, high, 1 - 2 * passed)}, which overlaps what is printed and "
            f"lies nearer than {tolerance:.3g} percentage points to it"
        )
        found = figures.judged(HOLDS, "borne_out", because, true_of=rows)
        return some_missing(found, figures.missing) if figures.missing else found
    wide = largest.at_most(passed) >= stated + tolerance
    because = f"no change is shown to come within {tolerance:.3g} percentage points of it"
    if wide.any():
        because = f"it may be larger by more than {tolerance:.3g} percentage points: "
        because += places(kept(rows, wide))
    return figures.judged(NOT_SETTLED, "too_wide", because, true_of=kept(rows, ~wide))


def _between(largest: Largest, low: float, high: float, level: float = 0.95) -> str:
    cells = f", paid for {len(largest.points)} cells" if len(largest.points) > 1 else ""
    return (
        f"the largest change lies between {low:.1f} and {high:.1f} % ({100 * level:.3g} %{cells})"
    )


def _figures(largest: Largest, missing: Sequence[Row], alpha: float) -> Found:
    at = largest.at
    low, high = sorted(float(largest.sign[at]) * end for end in largest.interval(alpha))
    figure = float(largest.points.figure[at])
    ends = f"{number(low, 'percent')} to {number(high, 'percent')} %"
    return Found(
        found=f"{number(figure, 'percent')} % (95 %: {ends}): {place(largest.points.rows[at])}",
        value=figure,
        low=low,
        high=high,
        unit="percent",
        rows=largest.points.rows,
        missing=missing,
    )
