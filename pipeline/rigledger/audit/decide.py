"""From what the random part showed to a bound and a decision.

Cells count as moved if they moved by at least the stated shift. A re-tested cell that moved is seen
with a known chance; cells seen by mistake only make the bound larger. So:

* *stands*: at most the tolerated share of the cells moved, at the plan's confidence;
* *re-test these*: the cells seen lie in a few titles (or rigs), and at most the tolerated share of
  the cells elsewhere moved. Which ones is chosen after looking, so the confidence is raised to hold
  for every choice of as many titles or rigs (Bonferroni);
* *re-test all*: neither can be shown.
"""

from __future__ import annotations

import math
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rigledger.statistics.bounds import MovedBound, Stratum, moved_bound

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

Verdict = Literal["stands", "retest_these", "retest_all"]
_MOST_NAMED = 3
_STEPS, _LEAST = 40, 1e-3


@dataclass(frozen=True, slots=True)
class Tested:
    """One cell of the frame, as the random part left it.

    Attributes:
        stratum, rig, workload: Where it belongs.
        power: Chance that it is seen if it moved and is tested.
        drawn: Whether it was drawn at random and tested.
        seen: Whether it was seen to move.
    """

    stratum: str
    rig: str
    workload: str
    power: float
    drawn: bool
    seen: bool


@dataclass(frozen=True, slots=True)
class Named:
    """Titles or rigs to be tested again, and what holds elsewhere."""

    kind: Literal["title", "rig"]
    names: tuple[str, ...]
    cells: int
    elsewhere: MovedBound


@dataclass(frozen=True, slots=True)
class Decision:
    """What to do.

    Attributes:
        verdict: The table stands; re-test some titles or rigs; re-test all.
        bound: On all cells of the frame.
        tolerated: Most cells that may have moved while the table stands.
        named: What to re-test, where the verdict is `retest_these`.
    """

    verdict: Verdict
    bound: MovedBound
    tolerated: int
    named: Named | None


def tolerated_cells(cells: int, tolerated_pct: float) -> int:
    """How many cells may have moved while the table still stands."""
    return math.floor(cells * tolerated_pct / 100.0 + 1e-9)


def strata_of(cells: Iterable[Tested]) -> list[Stratum]:
    """Count cells by stratum; a stratum's detection is the mean over its cells.

    It is rounded down to a fortieth: that makes the bound a little larger, never smaller, and lets
    strata of one kind be treated as one.
    """
    held: dict[str, list[Tested]] = defaultdict(list)
    for cell in cells:
        held[cell.stratum].append(cell)
    return [
        Stratum(
            cells=len(own),
            tested=sum(cell.drawn for cell in own),
            moved=sum(cell.seen for cell in own),
            detection=_rounded_down(sum(cell.power for cell in own) / len(own)),
        )
        for _, own in sorted(held.items())
    ]


def _rounded_down(chance: float) -> float:
    return max(math.floor(chance * _STEPS + 1e-9) / _STEPS, _LEAST)


def bound_of(cells: Sequence[Tested], *, level: float = 0.95) -> MovedBound:
    """Give the upper bound on moved cells among some of the frame."""
    return moved_bound(strata_of(cells), level=level)


def decide(cells: Sequence[Tested], *, tolerated_pct: float, level: float = 0.95) -> Decision:
    """Decide what the random part allows to say.

    Args:
        cells: The whole frame.
        tolerated_pct: Share of cells that may have moved while the table stands.
        level: Confidence of every statement.
    """
    bound = bound_of(cells, level=level)
    tolerated = tolerated_cells(len(cells), tolerated_pct)
    if bound.at_most <= tolerated:
        return Decision("stands", bound, tolerated, None)
    named = _narrowest(cells, tolerated_pct, level)
    return Decision("retest_these" if named else "retest_all", bound, tolerated, named)


def _narrowest(cells: Sequence[Tested], tolerated_pct: float, level: float) -> Named | None:
    """Of the titles and the rigs that hold what was seen, those with the fewest cells."""
    offers = [
        offer
        for kind in ("title", "rig")
        if (offer := _name(cells, kind, tolerated_pct, level)) is not None
    ]
    return min(offers, key=lambda offer: (offer.cells, offer.kind), default=None)


def _name(
    cells: Sequence[Tested], kind: Literal["title", "rig"], tolerated_pct: float, level: float
) -> Named | None:
    part = "workload" if kind == "title" else "rig"
    groups = sorted({getattr(cell, part) for cell in cells})
    seen = Counter(getattr(cell, part) for cell in cells if cell.seen)
    for count in range(1, min(_MOST_NAMED, len(groups) - 1) + 1):
        choices = 2 * math.comb(len(groups), count) * _MOST_NAMED
        names = tuple(name for name, _ in seen.most_common(count))
        if len(names) < count:
            return None
        rest = [cell for cell in cells if getattr(cell, part) not in names]
        elsewhere = bound_of(rest, level=1 - (1 - level) / choices)
        if elsewhere.at_most <= tolerated_cells(len(rest), tolerated_pct):
            return Named(kind, tuple(sorted(names)), len(cells) - len(rest), elsewhere)
    return None
