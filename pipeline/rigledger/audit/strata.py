"""Strata of the random part, how many cells each gets, and the lots by which they are drawn."""

from __future__ import annotations

import hashlib
from collections import defaultdict
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rigledger.audit.frame import FrameCell

DIVISIONS: tuple[tuple[str, ...], ...] = (("rig", "workload"), ("workload",), ("rig",), ())
"""From the finest to none: the finest in which every stratum gets a cell is taken."""

MOST_STRATA = 80
ALL = "all"


def divide(cells: Sequence[FrameCell], draws: int) -> dict[str, list[FrameCell]]:
    """Divide cells into the finest strata that each get at least one of the draws.

    Args:
        cells: The cells.
        draws: How many are to be drawn in all, at least 1.

    Returns:
        Cells by the stratum's name, in the order of the names.
    """
    for division in DIVISIONS:
        strata: dict[str, list[FrameCell]] = defaultdict(list)
        for cell in cells:
            name = " / ".join(getattr(cell, part) for part in division) or ALL
            strata[name].append(cell)
        if len(strata) <= min(draws, MOST_STRATA):
            break
    return {name: strata[name] for name in sorted(strata)}


def allot(sizes: Mapping[str, int], draws: int) -> dict[str, int]:
    """Share draws out in proportion to the strata's sizes: at least one each, never more than are.

    Largest remainders (Hamilton's method of apportionment) decide what rounding leaves open.

    Args:
        sizes: Cells by stratum.
        draws: At least as many as strata, unless there are fewer cells.
    """
    total = sum(sizes.values())
    draws = min(draws, total)
    exact = {name: draws * size / total for name, size in sizes.items()}
    held = {name: min(max(int(share), 1), sizes[name]) for name, share in exact.items()}
    while sum(held.values()) != draws:
        short = sum(held.values()) < draws
        open_to = [n for n in held if (held[n] < sizes[n] if short else held[n] > 1)]
        if not open_to:
            break
        gap = {name: exact[name] - held[name] for name in open_to}
        chosen = (max if short else min)(sorted(gap), key=gap.__getitem__)
        held[chosen] += 1 if short else -1
    return held


def lot(seed: str, cell: FrameCell) -> str:
    """Draw a cell's lot: a hash, so that it is the same on every system."""
    text = "\x1f".join(("re-test", seed, *cell.key))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def draw(seed: str, cells: Sequence[FrameCell], count: int) -> list[FrameCell]:
    """Draw cells without replacement: those with the smallest lots."""
    return sorted(cells, key=lambda cell: lot(seed, cell))[:count]
