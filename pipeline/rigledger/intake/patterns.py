"""Patterns over many runs that no single row shows: warm-up, drift, last digits.

Each is judged by an exact binomial tail at a level that holds for the whole set, so that it speaks
on fewer than one clean set in a thousand. Remarks for the curator and the tester, no accusations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache, partial
from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

from rigledger.intake.blocks import block_columns, cell_names, has_order

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator

    import duckdb

    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet
    from rigledger.side import Side

LEVEL = 1e-4
"""Chance with which a pattern is named in a set that has none, for each pattern and metric."""


_Counted = tuple[str, int, int, int]  # place, its first row, trials, hits


@dataclass(frozen=True, slots=True)
class _Pattern:
    rule: str
    chance: float
    fewest: int
    reason: str


_PATTERNS = (
    # With three runs or more the first one is the slowest by chance in at most a third of blocks.
    _Pattern("warm_up", 1 / 3, 8, "the first pass is the slowest in"),
    _Pattern("drift", 1 / 2, 14, "the last pass is slower than the first in"),
    _Pattern("last_digits", 1 / 10, 40, "the last digit is the same in"),
)


def binomial_tail(hits: int, trials: int, chance: float) -> float:
    """Give the probability of ``hits`` or more in ``trials``.

    Source: the binomial distribution, no approximation but that of floating point: its terms in
    logarithms, summed from the first until they no longer count.
    """
    if hits <= trials * chance:
        return 1.0 - sum(_terms(trials - hits + 1, trials, 1 - chance))
    return sum(_terms(hits, trials, chance))


def _terms(first: int, trials: int, chance: float) -> Iterator[float]:
    """Give the terms from ``first`` up, which lies above the mean, while they count."""
    largest = 0.0
    for k in range(first, trials + 1):
        term = _term(k, trials, chance)
        largest = max(largest, term)
        if term < largest * 1e-18:
            return
        yield term


@cache  # thousands of rigs have the same few numbers of cells
def _term(hits: int, trials: int, chance: float) -> float:
    """Give the probability of exactly so many hits."""
    ways = math.lgamma(trials + 1) - math.lgamma(hits + 1) - math.lgamma(trials - hits + 1)
    return math.exp(ways + hits * math.log(chance) + (trials - hits) * math.log1p(-chance))


def find_patterns(
    con: duckdb.DuckDBPyConnection,
    side: Side,
    held: TextSet,
    given: Collection[str],
    log: FindingLog,
) -> None:
    """Look for the patterns in each metric of the set that has no tail: the averages.

    Args:
        con: The database, with ``handed.*`` and the tables of cells.
        side: Where some patterns are looked for beside others.
        held: The set as text.
        given: The metrics that the set has, reported or recomputed.
        log: Takes the findings.
    """
    if "runs" not in held.tables:
        return
    most = _most_trials(con)
    patterns = [pattern for pattern in _PATTERNS if pattern.fewest <= most]
    for metric in log.contract.metrics.values():
        if not has_order(metric) or metric.metric not in given or not patterns:
            continue
        con.execute(_query("block_order", metric.metric))
        first, *others = patterns
        begun = [(one, side.begin(partial(_rows, one, metric.metric))) for one in others]
        found = [(first, _rows(first, metric.metric, con))]
        found += [(one, rows.result()) for one, rows in begun]
        for pattern, rows in found:
            _judge(pattern, rows, metric.metric, held.tables["runs"].file, log)


def _most_trials(con: duckdb.DuckDBPyConnection) -> int:
    """Give how many cells, each in its session, there are at most to judge a pattern by."""
    found = con.execute("SELECT count(*) FROM handed.block_sums WHERE measured").fetchone()
    return int(found[0]) if found else 0


def _query(name: str, metric: str) -> str:
    place = files("rigledger.intake").joinpath("sql", "patterns", f"{name}.sql")
    query = Template(place.read_text(encoding="utf-8"))
    return query.substitute(block_columns(metric), lowest=cell_names(metric)["lowest"], name=metric)


def _rows(pattern: _Pattern, metric: str, con: duckdb.DuckDBPyConnection) -> list[_Counted]:
    return con.execute(_query(pattern.rule, metric)).fetchall()


def _judge(
    pattern: _Pattern, rows: list[_Counted], metric: str, file: str, log: FindingLog
) -> None:
    for where, row, trials, hits in sorted(rows, key=lambda item: (item[1], item[0])):
        if trials < pattern.fewest or hits <= trials * pattern.chance:
            continue
        if _term(hits, trials, pattern.chance) * len(rows) >= LEVEL:
            continue  # the tail is no less than its first term
        chance = binomial_tail(hits, trials, pattern.chance) * len(rows)
        if chance < LEVEL:
            found = f"{pattern.reason} {hits} of {trials} cells ({where})"
            reason = f"{found}; by chance that happens with a probability of {chance:.1e}"
            log.add(pattern.rule, reason, file=file, row=row, column=metric)
