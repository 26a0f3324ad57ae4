"""The derived table ``claims``: each sentence with what the data say of it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from rigledger.claims.model import Claim, Judged
    from rigledger.tables.workshop import Workshop

JUDGED_BY = ("cells", "comparisons", "overall", "rig_comparisons", "factor_effects")
"""The derived tables that claims are held against; those that aren't there yet are built."""


def fill_judged_claims(shop: Workshop) -> None:
    """Fill ``work.judged_claims``: one row a claim, none where there are no claims."""
    table = shop.contract.table("derived", "claims")
    shop.fill_rows("judged_claims", table, [_row(judged) for judged in _judged(shop)])


def _judged(shop: Workshop) -> tuple[Judged, ...]:
    if not shop.claims:
        return ()
    from rigledger.claims.evidence import read_evidence
    from rigledger.claims.judge import judge_all
    from rigledger.claims.wording import words_of
    from rigledger.tabular import column_names

    for name in JUDGED_BY:
        if not column_names(shop.con, name):
            shop.derive(shop.contract.wide("derived", name))
    evidence = read_evidence(shop.con, shop.design, shop.contract)
    return judge_all(shop.claims, evidence, words_of(shop.design, shop.contract))


def _row(judged: Judged) -> dict[str, Any]:
    claim = judged.claim
    return {
        "claim": claim.claim,
        "sentence": claim.sentence,
        "quantity": claim.quantity,
        "scope": str(claim.scope),
        "stated": stated(claim),
        "verdict": judged.verdict,
        "finding": judged.finding,
        "found": judged.found,
        "found_value": judged.value,
        "found_low_95": judged.low,
        "found_high_95": judged.high,
        "unit": judged.unit,
        "because": judged.because,
        "narrowest": judged.narrowest,
        "cells": len(judged.cells),
        "cells_missing": len(judged.missing),
        "acknowledged": claim.acknowledged,
        "reason": claim.reason,
    }


def stated(claim: Claim) -> str | None:
    """Say in a line what a claim states: its figure, its order, or what it depends on."""
    if claim.printed is not None:
        told = claim.printed.text
        told = f"{told} ({claim.direction})" if claim.direction else told
        return f"{told} against {claim.against}" if claim.against else told
    if claim.order:
        return " > ".join(claim.order)
    return f"depends on {claim.factor}" if claim.factor else None
