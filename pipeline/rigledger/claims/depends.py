"""Claims that the change depends on the platform, the card, or the two together.

*Holds*: each row in the scope is flagged (`factor_effects`: a false discovery rate of 5 %, and an
extent beyond the material change); where the change depends on nothing that happens in 5 % of
studies at most. What depends on platform and card together depends on each: there, the flag of
the two together counts as well, if its false discovery rate is 1 %.
*Fails*: the upper ends of the extents of both lie within the material change: where it truly
depends by more than that, this happens in 2.5 % of studies at most.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.claims.found import PASSED, Found, nothing_found, place, places, some_missing
from rigledger.claims.model import BROADER, FAILS, HOLDS, NOT_SETTLED

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Claim

_SURELY = 0.01


def judge_depends(claim: Claim, evidence: Evidence, passed: float = PASSED) -> Found:
    """Judge a claim that the change depends on a factor, in each workload of its scope."""
    del passed  # the table's own flag decides
    asked = evidence.within(evidence.factors, claim.scope)
    rows = [row for row in asked if row["factor"] == claim.factor]
    known = [row for row in rows if row["not_estimable"] is None]
    if not known and rows:
        why = sorted({str(row["not_estimable"]).replace("_", " ") for row in rows})
        because = f"whether it depends on that can't be told: {', '.join(why)}"
        return Found(NOT_SETTLED, "not_estimable", because, rows=rows)
    if not known:
        return nothing_found(claim, evidence.factors, [])
    known = [_with_both(row, asked) for row in known]
    unknown = [{**row, "why": row["not_estimable"]} for row in rows if row["not_estimable"]]
    return _judged(known, unknown, evidence.material_change_pct)


def _with_both(row: Row, rows: Sequence[Row]) -> Row:
    """Give a row of platform or card with what is known of the two together."""
    names = ("contributor", "workload", "resolution", "contrast", "metric")
    both = [
        other
        for other in rows
        if other["factor"] == "platform_card"
        and other["not_estimable"] is None
        and all(other[name] == row[name] for name in names)
    ]
    if row["factor"] == "platform_card" or not both:
        return row
    surely = both[0]["depends"] and both[0]["q"] <= _SURELY and not row["depends"]
    shown = both[0] if surely else row
    at_most = max(row["extent_high_95_pct"], both[0]["extent_high_95_pct"])
    return {**shown, "factor": row["factor"], "at_most": at_most}


def _judged(known: Sequence[Row], unknown: Sequence[Row], delta: float) -> Found:
    figures = _figures(known, unknown)
    shown = [row for row in known if row["depends"]]
    others = [row for row in known if not row["depends"]]
    if shown and not others:
        because = f"shown in {places(shown)}" if len(shown) > 1 else _told(shown[0])
        found = figures.judged(HOLDS, "borne_out", because, true_of=shown)
        return some_missing(found, unknown) if unknown else found
    if shown:
        because = f"shown in {len(shown)} of {len(known)}, not in {places(others)}"
        return figures.judged(BROADER, "cells_disagree", because, true_of=shown)
    if all(row.get("at_most", row["extent_high_95_pct"]) < delta for row in known):
        because = f"what it depends on makes less than {delta:g} % in {places(known)}"
        return figures.judged(FAILS, "no_dependence", because)
    return figures.judged(NOT_SETTLED, "too_wide", f"not shown in {places(others)}")


def _told(row: Row) -> str:
    return f"apart by {row['extent_pct']:.1f} %" + (f": {row['place']}" if row["place"] else "")


def _figures(rows: Sequence[Row], unknown: Sequence[Row]) -> Found:
    widest = max(rows, key=lambda row: float(row["extent_pct"]))
    value, low, high = (
        float(widest[name]) for name in ("extent_pct", "extent_low_95_pct", "extent_high_95_pct")
    )
    return Found(
        found=f"apart by {value:.1f} % (95 %: {low:.1f} to {high:.1f} %) in {place(widest)}",
        value=value,
        low=low,
        high=high,
        unit="percent",
        rows=rows,
        missing=unknown,
    )
