"""Whether a change depends on what a sentence leaves out, by the tests of ``factor_effects``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.claims.found import ERROR, place

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Claim

SHARED = 0.0125
"""What each side of the intervals may miss where half of the 5 % is kept for this test."""

_WORDS = {"platform": "the platform", "card": "the card", "platform_card": "the rig"}


def dependence(claim: Claim, evidence: Evidence, rows: Sequence[Row]) -> tuple[float, str | None]:
    """Say on what the change depends, where the sentence names neither platform, card nor rig.

    The tests in the scope share 2.5 % (Bonferroni), so that together with intervals that miss 2.5 %
    a sentence that leaves out nothing on which the change depends is found fault with in 5 % of
    studies at most.

    Returns:
        What each side of the intervals may miss, and the surest dependence as a sentence; None
        where none is shown.
    """
    if claim.scope.names("platform", "card", "rig"):
        return ERROR, None
    places = {_key(row) for row in rows}
    tests = [
        row
        for row in evidence.within(evidence.factors, claim.scope)
        if row["p"] is not None and _key(row) in places
    ]
    if not tests:
        return ERROR, None
    shown = [row for row in tests if row["depends"] and row["p"] <= ERROR / len(tests)]
    return SHARED, _told(min(shown, key=lambda row: float(row["p"]))) if shown else None


def _key(row: Row) -> tuple[str, ...]:
    names = ("contributor", "workload", "resolution", "contrast", "metric")
    return tuple(str(row[name]) for name in names)


def _told(row: Row) -> str:
    where = f": {row['place']}" if row["place"] else ""
    named = place({key: row[key] for key in ("workload", "resolution", "contrast", "metric")})
    return (
        f"in {named} the change depends on {_WORDS[str(row['factor'])]} "
        f"(apart by {row['extent_pct']:.1f} %, 95 %: {row['extent_low_95_pct']:.1f} to "
        f"{row['extent_high_95_pct']:.1f} %){where}"
    )
