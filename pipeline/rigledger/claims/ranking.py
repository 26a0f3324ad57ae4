"""Claims on an order: of rigs by value, or of rigs or titles by what the setting does to them.

*Holds*: the 95 % interval of each neighbouring pair excludes that they are equal; since all have to
pass, an order with a pair the other way round is passed in 2.5 % of studies at most (Berger 1982).
*Fails*: a pair is shown to stand the other way round, by intervals that hold for all pairs
together. A pair that is neither is named as not settled. In a scope of several resolutions (or
workloads, levels, rigs) the order has to hold in each.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from rigledger.claims.figures import at_levels, number, signed
from rigledger.claims.found import ERROR, PASSED, Found, nothing_found, place, some_missing
from rigledger.claims.model import BROADER, FAILS, HOLDS, NOT_SETTLED
from rigledger.claims.points import Points, change_points, interval_points

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Claim

_SHOWN = 3
Place = tuple[tuple[str, str], ...]


def judge_ranking(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim on an order, pair by pair."""
    by_value = claim.ranked_by != "change"
    pairs = list(_by_value(claim, evidence) if by_value else _by_change(claim, evidence))
    rows = [row for _, both, _ in pairs for row in both]
    wanted = len(claim.order) - 1
    spots = list(dict.fromkeys(spot for _, _, spot in pairs))
    complete = {spot for spot in spots if _count(pairs, spot) == wanted}
    if not complete:
        return nothing_found(claim, evidence.rigs if by_value else evidence.judged, [])
    judged = [pair for pair in pairs if pair[2] in complete]
    points = _joined([pair[0] for pair in judged])
    found = _judged(points, [pair[2] for pair in judged], rows, min(ERROR, passed))
    short = [dict(spot) | {"why": "not all measured"} for spot in spots if spot not in complete]
    return some_missing(found, short) if found.verdict == HOLDS and short else found


def _count(pairs: Sequence[tuple[Points, Sequence[Row], Place]], spot: Place) -> int:
    return sum(held == spot for _, _, held in pairs)


def _by_value(claim: Claim, evidence: Evidence) -> Iterator[tuple[Points, Sequence[Row], Place]]:
    """Give for each neighbouring pair of rigs how much better the first is, wherever both are."""
    columns = ("difference_pct", "low_95_pct", "high_95_pct")
    scoped = at_levels(claim, evidence, evidence.rigs)
    if not claim.scope.names("workload", "title_set"):
        scoped = [row for row in scoped if row["workload"] == "all-shared"]
    for first, second in pairwise(claim.order):
        for row in scoped:
            pair = (row["from_rig"], row["to_rig"])
            if pair in {(first, second), (second, first)}:
                sign = 1.0 if pair == (second, first) else -1.0
                sign *= -1.0 if evidence.better.get(str(row["metric"])) == "lower" else 1.0
                spot = _spot(row, ("workload", "resolution", "level", "metric"))
                point = interval_points([row], columns)
                yield _turned(point, sign, first, second, spot), [row], spot


def _by_change(claim: Claim, evidence: Evidence) -> Iterator[tuple[Points, Sequence[Row], Place]]:
    """Give for each neighbouring pair of titles or rigs by how much more the first changes."""
    ranked = "rig" if "." in claim.order[0] else "workload"
    others = tuple(
        name for name in ("rig", "workload", "resolution", "contrast", "metric") if name != ranked
    )
    rows = [
        row for row in evidence.within(evidence.judged, claim.scope) if row[ranked] in claim.order
    ]
    held = {(_spot(row, others), row[ranked]): row for row in rows}
    for first, second in pairwise(claim.order):
        for spot in dict.fromkeys(_spot(row, others) for row in rows):
            both = [held.get((spot, name)) for name in (first, second)]
            one, other = both
            if one is not None and other is not None:
                sign = signed(claim, evidence, one)
                yield _difference(one, other, sign, spot, (first, second)), [one, other], spot


def _spot(row: Row, names: tuple[str, ...]) -> Place:
    return tuple((name, str(row[name])) for name in names)


def _turned(point: Points, sign: float, first: str, second: str, spot: Place) -> Points:
    """Give a difference with the sign turned, and named by its pair."""
    named = (dict(point.rows[0]) | dict(spot) | {"pair": f"{first} above {second}"},)
    below, above = (point.below, point.above) if sign > 0 else (point.above, point.below)
    return Points(named, sign * point.ln, below, above, point.df_inside, point.df_outside)


def _difference(one: Row, other: Row, sign: float, spot: Place, pair: tuple[str, str]) -> Points:
    """Give the difference of two changes.

    Its interval comes from the two parts' own (Zou and Donner 2008, Stat Med 27:1693-1702); its
    degrees of freedom are the fewer of theirs.
    """
    both = change_points([one, other])
    half = float(np.hypot(*both.above))
    ends = np.array([half])
    fewest = np.array([float(both.df_inside.min())])
    named = ({**dict(spot), "pair": f"{pair[0]} above {pair[1]}"},)
    ln = np.array([sign * float(both.ln[0] - both.ln[1])])
    return Points(named, ln, ends, ends, fewest, fewest)


def _joined(parts: Sequence[Points]) -> Points:
    return Points(
        tuple(row for part in parts for row in part.rows),
        ln=np.concatenate([part.ln for part in parts]),
        below=np.concatenate([part.below for part in parts]),
        above=np.concatenate([part.above for part in parts]),
        df_inside=np.concatenate([part.df_inside for part in parts]),
        df_outside=np.concatenate([part.df_outside for part in parts]),
    )


def _judged(points: Points, spots: Sequence[Place], rows: Sequence[Row], alpha: float) -> Found:
    figures = _figures(points, rows)
    turned = points.high(points.each(ERROR)) < 0
    settled = points.low(alpha) > 0
    every = list(dict.fromkeys(spots))
    good = [dict(spot) for spot in every if _all_of(settled, spots, spot)]
    bad = [dict(spot) for spot in every if dict(spot) not in good]
    figures = replace(figures, missing=[spot | {"why": "not settled"} for spot in bad])
    if turned.any():
        because = f"the other way round: {_pairs(points, turned)}"
        if good:
            return figures.judged(BROADER, "cells_disagree", because, true_of=good)
        return figures.judged(FAILS, "other_order", because)
    if bad:
        because = f"not settled: {_pairs(points, ~settled)}"
        return figures.judged(NOT_SETTLED, "too_wide", because, true_of=good)
    count = f"each of {len(points)} pairs of neighbours" if len(points) > 1 else "the pair"
    because = f"{count} is shown to stand in this order"
    return figures.judged(HOLDS, "borne_out", because, true_of=good)


def _all_of(settled: NDArray[np.bool_], spots: Sequence[Place], wanted: Place) -> bool:
    return all(fine for fine, spot in zip(settled, spots, strict=True) if spot == wanted)


def _pairs(points: Points, chosen: NDArray[np.bool_]) -> str:
    told = [
        f"{row['pair']} in {place(_without_rigs(row))} ({number(value, 'percent')} %)"
        for row, value, one in zip(points.rows, points.figure, chosen, strict=True)
        if one
    ]
    more = len(told) - _SHOWN
    return "; ".join(told[:_SHOWN]) + (f"; and {more} more" if more > 0 else "")


def _without_rigs(row: Row) -> Row:
    return {name: value for name, value in row.items() if name not in {"from_rig", "to_rig"}}


def _figures(points: Points, rows: Sequence[Row]) -> Found:
    closest = int(np.argmin(points.figure))
    low, high = float(points.low(ERROR)[closest]), float(points.high(ERROR)[closest])
    value = float(points.figure[closest])
    ends = f"{number(low, 'percent')} to {number(high, 'percent')} %"
    told = f"by {number(value, 'percent')} % (95 %: {ends})"
    return Found(
        found=f"closest pair: {points.rows[closest]['pair']} {told}",
        value=value,
        low=low,
        high=high,
        unit="percent",
        rows=rows,
    )
