"""Holds claims against the derived tables: one rule for each quantity."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.claims.depends import judge_depends
from rigledger.claims.figures import (
    judge_change,
    judge_geometric_mean,
    judge_rig_difference,
    judge_value,
)
from rigledger.claims.found import PASSED, cell_keys, place, unknown_name
from rigledger.claims.largest import judge_largest
from rigledger.claims.model import Judged
from rigledger.claims.ranking import judge_ranking
from rigledger.claims.same import judge_no_difference

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping

    from rigledger.claims.evidence import Evidence
    from rigledger.claims.found import Found
    from rigledger.claims.model import Claim, Dimension
    from rigledger.claims.wording import Wording

RULES: Mapping[str, Callable[[Claim, Evidence, float], Found]] = {
    "change": judge_change,
    "largest_change": judge_largest,
    "geometric_mean_change": judge_geometric_mean,
    "no_difference": judge_no_difference,
    "depends_on": judge_depends,
    "ranking": judge_ranking,
    "rig_difference": judge_rig_difference,
    "value": judge_value,
}
"""The rule for each quantity."""


def judge_all(
    claims: Iterable[Claim], evidence: Evidence, wording: Wording | None = None
) -> tuple[Judged, ...]:
    """Judge claims in their order; see `judge`."""
    return tuple(judge(claim, evidence, wording) for claim in claims)


def judge(claim: Claim, evidence: Evidence, wording: Wording | None = None) -> Judged:
    """Hold a claim against the derived tables.

    A true claim is failed (or called too broad) in 5 % of studies at most, and one that is wrong by
    more than the material change is passed in 5 % at most; ``ci/bench/claims.py`` measures both.

    Args:
        claim: The claim.
        evidence: Rows of the derived tables.
        wording: Words for the narrower sentence that is offered; None to look for none.

    Returns:
        The verdict with the figures it rests on.
    """
    found = find(claim, evidence)
    offered = None
    if wording is not None:
        from rigledger.claims.narrow import narrower

        offered = narrower(claim, found, evidence, wording)
    return Judged(
        claim=claim,
        verdict=found.verdict,
        finding=found.finding,
        because=found.because + "".join(_remarks(found)),
        found=found.found,
        value=found.value,
        low=found.low,
        high=found.high,
        unit=found.unit,
        narrowest=offered.sentence if offered else None,
        offered=offered,
        cells=cell_keys(found.rows, evidence),
        missing=tuple(f"{place(row)}: {row['why']}" for row in found.missing),
    )


def _remarks(found: Found) -> Iterable[str]:
    """Say what a reader should know beside the verdict."""
    stale = sum(bool(row.get("stale")) for row in found.rows)
    if stale:
        yield f" ({stale} of them on a stack that the rig no longer has)"
    if any(row.get("sessions") == 1 for row in found.rows):
        yield " (of one boot; another may read otherwise)"


def find(claim: Claim, evidence: Evidence, *, passed: float = PASSED) -> Found:
    """Apply the rule of a claim's quantity, once its names are known.

    Args:
        claim: The claim.
        evidence: Rows of the derived tables.
        passed: One-sided level at which each estimate must be shown to be near enough; less than
            5 % where the data chose the claim.
    """
    unknown = evidence.unknown(claim.scope, _further(claim))
    return unknown_name(unknown) if unknown else RULES[claim.quantity](claim, evidence, passed)


def _further(claim: Claim) -> Iterable[tuple[Dimension, str]]:
    if claim.against is not None:
        yield "rig", claim.against
    for name in claim.order:
        if "." in name:
            yield "rig", name
