"""Claims that state a figure: of a change, a geometric mean, a rig difference, a value.

Every one of the scope's estimates has to agree with the printed figure.

*Fails*: an estimate's interval excludes everything that would be printed so. The intervals of all
estimates hold together, so that a true claim is failed in 5 % of studies at most.
*Holds*: no interval excludes it, and each estimate is shown to lie nearer to the figure than the
material change (or than the half unit of the last printed digit, where that is wider), by two
one-sided tests at 5 % (Schuirmann DJ (1987), J Pharmacokinet Biopharm 15:657-680). Since every
estimate has to pass, a claim that is wrong by more than that of any one of them is passed in 5 % of
studies at most (Berger RL (1982), Technometrics 24(4):295-300).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rigledger.claims.dependence import dependence
from rigledger.claims.found import (
    ERROR,
    PASSED,
    Found,
    discovered,
    kept,
    nothing_found,
    places,
    some_missing,
)
from rigledger.claims.model import BROADER, FAILS, HOLDS, NOT_SETTLED
from rigledger.claims.points import change_points, interval_points, value_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Claim
    from rigledger.claims.points import FloatArray, Points

    BoolArray = NDArray[np.bool_]


@dataclass(frozen=True)
class Compared:
    """Estimates beside what is stated of each.

    Attributes:
        points: The estimates.
        stated: The printed figure with its sign, shape (m,).
        half_unit: How far around it is printed so.
        tolerance: How far an estimate may lie from it at most, shape (m,).
        unit: Unit of the figures.
        alpha: What each side of the intervals together may miss.
        passed: One-sided level at which each must be shown to be near enough.
    """

    points: Points
    stated: FloatArray
    half_unit: float
    tolerance: FloatArray
    unit: str
    alpha: float
    passed: float

    @property
    def ends(self) -> tuple[FloatArray, FloatArray]:
        """Ends of intervals that hold together."""
        each = self.points.each(self.alpha)
        return self.points.low(each), self.points.high(each)

    @property
    def excluded(self) -> BoolArray:
        """Whether an interval excludes all that would be printed so."""
        low, high = self.ends
        return (low > self.stated + self.half_unit) | (high < self.stated - self.half_unit)

    def near(self, level: float) -> BoolArray:
        """Whether an estimate is shown to lie within the tolerance, one-sided at a level."""
        low, high = self.points.low(level), self.points.high(level)
        return (low > self.stated - self.tolerance) & (high < self.stated + self.tolerance)

    @property
    def possible(self) -> BoolArray:
        """Whether a figure may be true: not excluded, and on the stated side of no change."""
        low, high = self.points.low(ERROR), self.points.high(ERROR)
        side = (self.stated * low > 0) & (self.stated * high > 0)
        return ~self.excluded & (side | self.near(self.passed))


def judge_change(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim on the change of each cell in its scope."""
    rows = evidence.within(evidence.judged, claim.scope)
    missing = evidence.within(evidence.missing, claim.scope)
    if not rows:
        return nothing_found(claim, evidence.judged, missing)
    alpha, depends = dependence(claim, evidence, rows)
    compared = _compared(claim, evidence, change_points(rows), (alpha, passed))
    return _judged(compared, missing, depends)


def judge_geometric_mean(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim on the geometric-mean change over a title set, on each rig in its scope."""
    rows = evidence.within(evidence.overall, claim.scope)
    known = [row for row in rows if row["change_pct"] is not None]
    if not known:
        return nothing_found(claim, evidence.overall, [{**row, "why": "no titles"} for row in rows])
    columns = ("change_pct", "these_low_95_pct", "these_high_95_pct")
    points = interval_points(known, columns, _widened(known, evidence))
    short = [{**row, "why": _titles_missing(row)} for row in rows if row["titles_missing"]]
    found = _judged(_compared(claim, evidence, points, (ERROR, passed)), [], None)
    return some_missing(found, short) if found.verdict == HOLDS and short else found


def _titles_missing(row: Row) -> str:
    return f"{row['titles_missing']} of {row['titles'] + row['titles_missing']} titles missing"


def _widened(rows: Sequence[Row], evidence: Evidence) -> FloatArray:
    """Give how much wider the decision's intervals are than the plain ones, the widest title's."""
    points = change_points(evidence.judged)
    plain = np.log1p(np.array([row["high_95_pct"] for row in points.rows]) / 100) - points.ln
    factor = points.above / np.maximum(plain, 1e-12)
    widest: dict[tuple[str, ...], float] = {}
    for row, value in zip(points.rows, factor, strict=True):
        key = tuple(row[name] for name in ("rig", "resolution", "contrast", "metric"))
        widest[key] = max(widest.get(key, 1.0), float(value))
    return np.array(
        [
            widest.get((row["rig"], row["resolution"], row["contrast"], row["metric"]), 1.0)
            for row in rows
        ]
    )


def judge_rig_difference(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim on the difference between two rigs, over shared titles or on named ones."""
    rows = rig_rows(claim, evidence)
    if not rows:
        return nothing_found(claim, evidence.rigs, [])
    points = interval_points(rows, ("difference_pct", "low_95_pct", "high_95_pct"))
    found = _judged(_compared(claim, evidence, points, (ERROR, passed)), [], None)
    differs = sorted({str(row["differs_in"]) for row in rows if row["differs_in"]})
    if not differs:
        return found
    because = f"{found.because} (the rigs also differ in {'; '.join(differs)})"
    return replace(found, because=because)


def rig_rows(claim: Claim, evidence: Evidence) -> list[Row]:
    """Give the differences of a claim's rig against another, turned where published otherwise."""
    (rig,) = claim.scope.of("rig") or ("",)
    turned = {(claim.against, rig): False, (rig, claim.against): True}
    chosen = []
    for row in at_levels(claim, evidence, evidence.rigs):
        pair = (row["from_rig"], row["to_rig"])
        titled = claim.scope.names("workload", "title_set") or row["workload"] == "all-shared"
        if pair in turned and titled:
            chosen.append(_turned(row) if turned[pair] else row)
    return chosen


def at_levels(claim: Claim, evidence: Evidence, rows: Sequence[Row]) -> list[Row]:
    """Give the rows of a scope at the levels it names, else at the baseline; rigs are left open."""
    scope = claim.scope
    if not scope.names("level"):
        scope = scope.narrowed("level", (evidence.baseline,))
    return evidence.within(rows, scope)


def _turned(row: Row) -> Row:
    def inverse(name: str) -> float:
        return 100.0 * (1.0 / (1.0 + float(row[name]) / 100.0) - 1.0)

    return dict(row) | {
        "from_rig": row["to_rig"], "to_rig": row["from_rig"],
        "difference_pct": inverse("difference_pct"),
        "low_95_pct": inverse("high_95_pct"), "high_95_pct": inverse("low_95_pct"),
    }  # fmt: skip


def judge_value(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim on the value of each cell in its scope."""
    rows = at_levels(claim, evidence, evidence.values)
    unit = claim.printed.unit if claim.printed else None
    rows = [row for row in rows if row["unit"] == unit]
    if not rows:
        return nothing_found(claim, evidence.values, [])
    return _judged(_compared(claim, evidence, value_points(rows), (ERROR, passed)), [], None)


def _compared(
    claim: Claim, evidence: Evidence, points: Points, levels: tuple[float, float]
) -> Compared:
    printed = claim.printed
    if printed is None:
        raise ValueError(claim.claim)
    sign = np.array([signed(claim, evidence, row) for row in points.rows])
    stated = sign * printed.size
    delta = evidence.material_change_pct
    allowed = np.abs(stated) * delta / 100 if printed.kind == "value" else delta
    tolerance = np.maximum(np.broadcast_to(allowed, stated.shape), printed.half_unit)
    unit = printed.unit or "percent"
    return Compared(points, stated, printed.half_unit, tolerance, unit, *levels)


def signed(claim: Claim, evidence: Evidence, row: Row) -> float:
    """Give the sign of a stated change for a row's metric: a gain in seconds is a fall."""
    sense = (claim.printed.sense if claim.printed else None) or claim.direction or "+"
    falls = evidence.better.get(str(row["metric"])) == "lower"
    return {"+": 1.0, "-": -1.0, "gain": -1.0 if falls else 1.0, "loss": 1.0 if falls else -1.0}[
        sense
    ]


def _judged(compared: Compared, missing: Sequence[Row], depends: str | None) -> Found:
    figures = _figures(compared, missing)
    rows = compared.points.rows
    near = compared.near(compared.passed)
    sure, level = discovered(compared.near)
    figures = replace(figures, level=level)
    some = kept(rows, sure & ~compared.excluded)
    if compared.excluded.any():
        if compared.possible.any():
            because = _disagree(compared)
            return figures.judged(BROADER, "cells_disagree", because, true_of=some)
        return figures.judged(FAILS, "other_figure", _excludes(compared))
    if depends is not None:
        return figures.judged(BROADER, "dependence", depends, true_of=some)
    if not near.all():
        return figures.judged(NOT_SETTLED, "too_wide", _wide(compared), true_of=some)
    found = figures.judged(HOLDS, "borne_out", _borne_out(compared), true_of=some)
    return some_missing(found, missing) if missing else found


def _figures(compared: Compared, missing: Sequence[Row]) -> Found:
    low, high = compared.ends
    figure = compared.points.figure
    farthest = int(np.argmax(np.abs(figure - compared.stated)))
    ends = (float(low.min()), float(high.max()))
    return Found(
        found=_told(figure, ends, compared.unit),
        value=float(figure[farthest]),
        low=ends[0],
        high=ends[1],
        unit=compared.unit,
        rows=compared.points.rows,
        missing=missing,
    )


def _told(figure: FloatArray, ends: tuple[float, float], unit: str) -> str:
    sign = unit_of(unit)
    between = f"(95 %: {number(ends[0], unit)} to {number(ends[1], unit)}{sign})"
    if len(figure) == 1:
        return f"{number(figure[0], unit)}{sign} {between}"
    span = f"{number(figure.min(), unit)} to {number(figure.max(), unit)}{sign}"
    return f"{span} over {len(figure)} cells {between}"


def unit_of(unit: str) -> str:
    """Give a unit as it stands behind a figure."""
    return " %" if unit == "percent" else f" {unit}"


def number(value: float, unit: str) -> str:
    """Write a figure with a decimal; a change with its sign."""
    return f"{value + 0.0:+.1f}" if unit == "percent" else f"{value:.1f}"


def _printed_range(compared: Compared, at: int = 0) -> str:
    ends = sorted(compared.stated[at] + side * compared.half_unit for side in (-1, 1))
    low, high = (f"{end:.4g}" for end in ends)
    return f"{low} to {high}{unit_of(compared.unit)}"


def _excludes(compared: Compared) -> str:
    count = len(compared.points)
    told = "its interval excludes" if count == 1 else f"the intervals of {_of(compared)} exclude"
    return f"{told} {_printed_range(compared)}, which is what is printed so"


def _of(compared: Compared) -> str:
    out, count = int(compared.excluded.sum()), len(compared.points)
    return f"all {count} cells" if out == count else f"{out} of {count} cells"


def _disagree(compared: Compared) -> str:
    other = kept(compared.points.rows, compared.excluded)
    return (
        f"the intervals of {_of(compared)} exclude {_printed_range(compared)}, those of "
        f"{int(compared.possible.sum())} don't; excluded: {places(other)}"
    )


def _wide(compared: Compared) -> str:
    open_ones = kept(compared.points.rows, ~compared.near(compared.passed))
    count = len(compared.points)
    told = "its interval reaches" if count == 1 else f"{len(open_ones)} of {count} intervals reach"
    return f"{told} farther than {_far(compared)} from what is stated: {places(open_ones)}"


def _borne_out(compared: Compared) -> str:
    count = len(compared.points)
    told = "the interval" if count == 1 else f"each of {count} intervals"
    near = f"lies nearer than {_far(compared)} to what is stated"
    return f"{told} overlaps {_printed_range(compared)} and {near}"


def _far(compared: Compared) -> str:
    unit = " percentage points" if compared.unit == "percent" else unit_of(compared.unit)
    return f"{compared.tolerance.max():.3g}{unit}"
