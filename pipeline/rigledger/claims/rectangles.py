"""Scopes that hold as many true cells as possible, and not one false one.

A sentence can name a list for each dimension, so what it speaks of is a block: these cards times
these platforms times these titles. Blocks are looked for along one dimension, along two, and along
two within one name of a third.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from itertools import combinations
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.claims.evidence import Row
    from rigledger.claims.model import Dimension, Scope

NARROWED: tuple[Dimension, ...] = (
    "workload", "card", "platform", "resolution", "metric", "contrast", "rig", "level",
    "contributor", "title_set",
)  # fmt: skip
"""Dimensions along which a scope is narrowed, those preferred first."""

# A reader knows models; that it was this rig is said only where models don't tell it.
_COSTS = {"rig": 3}
Names = tuple[tuple["Dimension", tuple[str, ...]], ...]


def clean_scopes(
    scope: Scope,
    true_of: Sequence[Row],
    neutral: Sequence[Row] = (),
    false_of: Sequence[Row] = (),
) -> list[Scope]:
    """Give narrower scopes without a false row, the widest first.

    Args:
        scope: The scope to narrow.
        true_of: Rows that should lie inside; the more, the better.
        neutral: Rows that may lie inside or not.
        false_of: Rows that must not.
    """
    every = (*true_of, *neutral, *false_of)
    varying = [
        name
        for name in NARROWED
        if all(name in row for row in every) and len({row[name] for row in every}) > 1
    ]
    found: dict[Scope, tuple[int, int, int]] = {}
    for place, names in enumerate(_blocks(varying, true_of, false_of)):
        inside = sum(_in(row, names) for row in true_of)
        narrowed = scope
        for dimension, held in names:
            narrowed = narrowed.narrowed(dimension, held)
        if inside and narrowed not in found and not any(_in(row, names) for row in false_of):
            words = sum(len(held) * _COSTS.get(dimension, 1) for dimension, held in names)
            found[narrowed] = (-inside, words, place)
    return sorted(found, key=lambda one: found[one])


def _in(row: Row, names: Names) -> bool:
    return all(row[dimension] in held for dimension, held in names)


def _blocks(
    varying: Sequence[Dimension], true_of: Sequence[Row], false_of: Sequence[Row]
) -> Iterator[Names]:
    for one in varying:
        bad = {row[one] for row in false_of}
        clean = tuple(dict.fromkeys(row[one] for row in true_of if row[one] not in bad))
        if clean:
            yield ((one, clean),)
    for one, other in combinations(varying, 2):
        yield from _rectangles(one, other, true_of, false_of)
    for third in varying:
        for name in dict.fromkeys(row[third] for row in true_of):
            parts = [[row for row in rows if row[third] == name] for rows in (true_of, false_of)]
            yield from _within((third, (name,)), varying, *parts)


def _within(
    fixed: tuple[Dimension, tuple[str, ...]],
    varying: Sequence[Dimension],
    true_of: Sequence[Row],
    false_of: Sequence[Row],
) -> Iterator[Names]:
    rest = [name for name in varying if name != fixed[0]]
    for one, other in combinations(rest, 2):
        for names in _rectangles(one, other, true_of, false_of):
            yield (fixed, *names)


def _rectangles(
    one: Dimension, other: Dimension, true_of: Sequence[Row], false_of: Sequence[Row]
) -> Iterator[Names]:
    """Give the largest block along two dimensions, or none.

    Blocks are those whose columns are what two rows (or one) have in common: for the few names of a
    study these hold the largest one, or one nearly as large.
    """
    bad = {(row[one], row[other]) for row in false_of}
    count = Counter((row[one], row[other]) for row in true_of)
    clean: dict[str, set[str]] = defaultdict(set)
    for pair in count:
        if pair not in bad:
            clean[pair[0]].add(pair[1])
    best: tuple[int, tuple[str, ...], tuple[str, ...]] = (0, (), ())
    for first, second in combinations_with_itself(tuple(clean)):
        columns = clean[first] & clean[second]
        rows = tuple(name for name, held in clean.items() if held >= columns)
        size = sum(count[row, column] for row in rows for column in columns)
        if columns and size > best[0]:
            best = (size, rows, tuple(sorted(columns)))
    if best[0]:
        yield ((one, best[1]), (other, best[2]))


def combinations_with_itself(names: tuple[str, ...]) -> Iterator[tuple[str, str]]:
    """Give all pairs of names, and each with itself."""
    yield from ((name, name) for name in names)
    yield from combinations(names, 2)
