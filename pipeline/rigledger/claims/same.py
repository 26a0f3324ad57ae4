"""Claims that there is no difference: no material change in any cell of a scope.

*Holds*: every cell is immaterial, by two one-sided tests at 5 % each (Schuirmann 1987): since all
have to pass, the claim is passed in 5 % of studies at most where any cell's change is material
(Berger 1982). *Fails or too broad*: a cell is shown to be material, by intervals that hold for all
cells together, so that a true claim is failed in 5 % of studies at most.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from rigledger.claims.figures import number
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
from rigledger.claims.points import change_points

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Claim
    from rigledger.claims.points import Points


def judge_no_difference(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim that no cell of its scope changes materially."""
    rows = evidence.within(evidence.judged, claim.scope)
    missing = evidence.within(evidence.missing, claim.scope)
    if not rows:
        return nothing_found(claim, evidence.judged, missing)
    points, delta = change_points(rows), evidence.material_change_pct
    each = points.each(ERROR)
    material = (points.low(each) > delta) | (points.high(each) < -delta)
    immaterial = _immaterial(points, delta, passed) & ~material
    sure, level = discovered(partial(immaterial_at, points, delta))
    true_of = kept(rows, sure & ~material)
    figures = replace(_figures(points, missing), level=level)
    if material.any():
        some = kept(rows, material)
        because = f"{len(some)} of {len(rows)} cells change materially: {places(some)}"
        if not immaterial.any():
            return figures.judged(FAILS, "difference_shown", because)
        return figures.judged(BROADER, "cells_disagree", because, true_of=true_of)
    if not immaterial.all():
        wide = kept(rows, ~immaterial)
        because = f"{len(wide)} of {len(rows)} may change by more than {delta:g} %: {places(wide)}"
        return figures.judged(NOT_SETTLED, "too_wide", because, true_of=true_of)
    because = f"each of {len(points)} changes is shown to lie within {delta:g} %"
    found = figures.judged(HOLDS, "borne_out", because, true_of=true_of)
    return some_missing(found, missing) if missing else found


def immaterial_at(points: Points, delta: float, level: float) -> NDArray[np.bool_]:
    """Say which changes are shown to lie within the material change, one-sided at a level."""
    return (points.low(level) > -delta) & (points.high(level) < delta)


def _immaterial(points: Points, delta: float, passed: float) -> NDArray[np.bool_]:
    """Take the table's size where there is one: it pays for rounds more exactly."""
    inside = immaterial_at(points, delta, passed)
    if passed < PASSED:
        return inside
    sizes = [row["size"] for row in points.rows]
    return np.array(
        [
            own if size is None else size == "immaterial"
            for own, size in zip(inside, sizes, strict=True)
        ]
    )


def _figures(points: Points, missing: Sequence[Row]) -> Found:
    each = points.each(ERROR)
    low, high = float(points.low(each).min()), float(points.high(each).max())
    figure = points.figure
    span = f"{number(figure.min(), 'percent')} to {number(figure.max(), 'percent')} %"
    ends = f"{number(low, 'percent')} to {number(high, 'percent')} %"
    return Found(
        found=f"{span} over {len(figure)} cells (95 %: {ends})",
        value=float(figure[int(np.argmax(np.abs(figure)))]),
        low=low,
        high=high,
        unit="percent",
        rows=points.rows,
        missing=missing,
    )
