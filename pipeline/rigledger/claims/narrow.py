"""The widest wording that holds where a sentence doesn't: a narrower scope, or the true figure."""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

from rigledger.claims.model import FAILS, HOLDS
from rigledger.claims.printed import understood
from rigledger.claims.rectangles import clean_scopes

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.claims.evidence import Evidence
    from rigledger.claims.found import Found
    from rigledger.claims.model import Claim, Dimension
    from rigledger.claims.wording import Wording

_PINNED: tuple[Dimension, ...] = ("card", "platform", "resolution")
_OF_LEVELS = ("value", "rig_difference", "ranking")
_MOST_TRIES = 24
_MOST_RANKED = 8


def narrower(claim: Claim, found: Found, evidence: Evidence, wording: Wording) -> Claim | None:
    """Give a claim that holds and says as much as may be said instead; None where none is found.

    Args:
        claim: A claim that was judged.
        found: What was found of it.
        evidence: Rows of the derived tables.
        wording: Words for the sentence.
    """
    if found.verdict == HOLDS or not found.rows:
        return None
    tries = (*_narrower_scopes(claim, found), *_true_figures(claim, found), *_fewer(claim))
    for other in tries:
        if _holds(other, evidence):
            told = pinned(other, evidence)
            sentence = wording.sentence(told)
            return replace(told, sentence=sentence, acknowledged=False, reason=None)
    return None


def pinned(claim: Claim, evidence: Evidence) -> Claim:
    """Name cards, platforms and resolutions too where those measured are not all of the study's.

    The claim covers the same rows as before; its sentence no longer sounds as if it spoke of what
    this contrast was never measured on.
    """
    scope = claim.scope
    if scope.names("rig", "level") or claim.quantity in _OF_LEVELS:
        return claim
    rows = evidence.within(evidence.judged, scope)
    for dimension in _PINNED:
        names = {str(row[dimension]) for row in rows}
        every = {str(row[dimension]) for row in evidence.judged}
        if names and names < every and not scope.names(dimension):
            scope = scope.narrowed(dimension, tuple(sorted(names)))
    return replace(claim, scope=scope)


def _holds(claim: Claim, evidence: Evidence) -> bool:
    from rigledger.claims.judge import find

    return find(claim, evidence).verdict == HOLDS


def _narrower_scopes(claim: Claim, found: Found) -> Iterator[Claim]:
    """Try the scopes that leave out all of which it is false, the widest first."""
    if not found.true_of or found.verdict == FAILS:
        return
    false_of = (*found.false_of, *found.missing)
    scopes = clean_scopes(claim.scope, found.true_of, found.neutral, false_of)
    for scope in scopes[:_MOST_TRIES]:
        yield replace(claim, scope=scope)


def _true_figures(claim: Claim, found: Found) -> Iterator[Claim]:
    """Try the figure that was found; for a change, also as the largest."""
    printed = claim.printed
    if printed is None or found.value is None:
        return
    up_to = claim.quantity == "largest_change"
    figures = [found.value]
    if not up_to and found.low is not None and found.high is not None:
        figures.append((found.low + found.high) / 2)
    for figure in figures:
        for text in figures_of(figure, printed.unit, up_to=up_to):
            yield replace(claim, printed=understood(text), direction=None)
    if claim.quantity == "change":
        for text in figures_of(found.value, None, up_to=True):
            other = replace(claim, printed=understood(text), direction=None)
            yield replace(other, quantity="largest_change")


def figures_of(value: float, unit: str | None, *, up_to: bool) -> Iterator[str]:
    """Print a figure: a change in whole per cent (below 2 % with a decimal), or a value."""
    if unit is not None:
        yield f"{value:.0f} {unit}"
        yield f"about {value:.0f} {unit}"
        return
    words = "higher" if value >= 0 else "lower"
    size = f"{abs(value):.1f}" if abs(value) < 2 else f"{abs(value):.0f}"
    most = "up to " if up_to else ""
    yield f"{most}{size} % {words}"
    if not up_to:
        yield f"about {size} % {words}"


def _fewer(claim: Claim) -> Iterator[Claim]:
    """Try a ranking with fewer names in it, the most first."""
    if len(claim.order) <= _MOST_RANKED:
        for count in range(len(claim.order) - 1, 1, -1):
            for order in combinations(claim.order, count):
                yield replace(claim, order=order)
