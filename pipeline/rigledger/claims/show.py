"""Judged claims for a person: grouped by verdict, what needs work first."""

from __future__ import annotations

from dataclasses import asdict
from itertools import groupby
from typing import TYPE_CHECKING, Any

from rigledger.claims.entry import entry_of
from rigledger.claims.model import VERDICTS
from rigledger.claims.table import stated

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.claims.model import Judged

_TITLES = {
    "fails": "fails: the data contradict it",
    "broader_than_the_data": "broader than the data: it leaves out on what the result depends",
    "not_settled": "not settled: the data can't tell",
    "holds": "holds",
}


def report_lines(judged: Sequence[Judged]) -> Iterator[str]:
    """Give the lines of a report on claims, ending with a count.

    Each claim has its sentence, what it states, what was found, why, and what may be said instead.
    """
    ordered = sorted(judged, key=lambda one: VERDICTS.index(one.verdict))
    for verdict, group in groupby(ordered, key=lambda one: one.verdict):
        held = list(group)
        yield f"{_TITLES[verdict]} ({len(held)})"
        for one in held:
            yield from _lines(one)
        yield ""
    yield summary(judged)


def _lines(one: Judged) -> Iterator[str]:
    claim = one.claim
    yield f"  {claim.claim}" + (f" (acknowledged: {claim.reason})" if claim.acknowledged else "")
    rows = (
        ("sentence", claim.sentence),
        ("stated", f"{stated(claim) or claim.quantity.replace('_', ' ')} [{claim.scope}]"),
        ("found", one.found),
        ("because", one.because),
        ("instead", one.narrowest),
    )
    for label, text in rows:
        if text is not None:
            yield f"    {label:9}{text}"


def summary(judged: Sequence[Judged]) -> str:
    """Count verdicts in a line."""
    counts = (
        f"{sum(one.verdict == verdict for one in judged)} {verdict.replace('_', ' ')}"
        for verdict in reversed(VERDICTS)
    )
    noun = "claim" if len(judged) == 1 else "claims"
    return f"{len(judged)} {noun}: {', '.join(counts)}"


def suggested_lines(suggested: Sequence[Judged]) -> Iterator[str]:
    """Give proposed claims as text to paste into claims.toml, each with what it rests on."""
    for one in suggested:
        yield f"# {one.found}; {one.because}"
        yield entry_of(one.claim)


def as_values(judged: Judged) -> dict[str, Any]:
    """Give a judged claim as plain JSON values."""
    held = asdict(judged)
    held["claim"] = claim_values(judged)
    held["offered"] = entry_of(judged.offered) if judged.offered else None
    held["cells"] = [key._asdict() for key in judged.cells]
    return held


def claim_values(judged: Judged) -> dict[str, Any]:
    """Give the claim itself."""
    claim = judged.claim
    return {
        "claim": claim.claim,
        "sentence": claim.sentence,
        "quantity": claim.quantity,
        "stated": stated(claim),
        "scope": {dimension: list(names) for dimension, names in claim.scope.named},
        "acknowledged": claim.acknowledged,
        "reason": claim.reason,
    }
