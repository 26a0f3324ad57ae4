"""The widest wording that holds where a sentence doesn't: a narrower scope, or the true figure.

Among many cells some agree with any figure by chance. Where the data choose the scope, each of its
cells has to be among those that are near enough by the rule of Benjamini and Hochberg (1995), of
which 5 % at most are wrong by more than the material change (`found.discovered`). Where the data
choose the figure, each has to be near enough at 2.5 %, since it may have been chosen too high or
too low.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING

from rigledger.claims.figures import signed
from rigledger.claims.found import PASSED
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
    for other in _tries(claim, found, evidence):
        if holds(other, evidence, _level(claim, other, found)):
            told = pinned(other, evidence)
            sentence = wording.sentence(told)
            return replace(told, sentence=sentence, acknowledged=False, reason=None)
    return None


def _tries(claim: Claim, found: Found, evidence: Evidence) -> Iterator[Claim]:
    narrowed = list(_narrower_scopes(claim, found))
    yield from narrowed
    yield from _true_figures(claim, found)
    if claim.quantity == "largest_change":
        for other in narrowed:
            yield from _largest_within(other, evidence)
    yield from _fewer(claim)


def _largest_within(claim: Claim, evidence: Evidence) -> Iterator[Claim]:
    """Try the largest change of a narrower scope, in the direction that was stated."""
    rows = evidence.within(evidence.judged, claim.scope)
    sizes = [signed(claim, evidence, row) * row["change_pct"] for row in rows]
    if sizes and max(sizes) > 0:
        largest = rows[sizes.index(max(sizes))]["change_pct"]
        for text in figures_of(largest, None, up_to=True):
            yield replace(claim, printed=understood(text), direction=None)


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


def holds(claim: Claim, evidence: Evidence, passed: float) -> bool:
    """Say whether a claim that the data chose holds at a level that pays for the choice."""
    from rigledger.claims.judge import find

    return find(claim, evidence, passed=passed).verdict == HOLDS


def _level(claim: Claim, other: Claim, found: Found) -> float:
    if other.printed != claim.printed:
        return PASSED / 2
    if other.order != claim.order:
        return PASSED / len(claim.order)
    if found.level is not None:
        return found.level
    inside = sum(
        all(row[name] in held for name, held in other.scope.named if name in row)
        for row in found.rows
    )
    return PASSED * max(inside, 1) / len(found.rows)


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
