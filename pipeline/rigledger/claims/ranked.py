"""Orders of rigs that the data settle, proposed for each contributor, metric and resolution."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING

from rigledger.claims.model import Claim, Scope

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from rigledger.claims.evidence import Evidence, Row

_FEWEST = 2


def rankings(evidence: Evidence) -> Iterator[Claim]:
    """Propose orders of a contributor's rigs in which each is shown to be above the next."""
    groups: dict[tuple[str, str, str], list[Row]] = defaultdict(list)
    for row in evidence.rigs:
        if row["workload"] == "all-shared" and row["level"] == evidence.baseline:
            groups[row["contributor"], row["metric"], row["resolution"]].append(row)
    for (contributor, metric, resolution), rows in sorted(groups.items()):
        order = _chain(rows, falls=evidence.better.get(metric) == "lower")
        if len(order) >= _FEWEST:
            scope = (
                Scope()
                .narrowed("metric", (metric,))
                .narrowed("contributor", (contributor,))
                .narrowed("resolution", (resolution,))
                .narrowed("level", (evidence.baseline,))
            )
            yield Claim("s", "s", "ranking", scope, order=order, ranked_by="value")


def _chain(rows: Sequence[Row], *, falls: bool) -> tuple[str, ...]:
    """Go down from the best rig to the next one that is shown to be worse."""
    above = _above(rows, falls=falls)
    rigs = sorted(above, key=lambda rig: (-len(above[rig]), rig))
    chain = rigs[:1]
    for rig in rigs[1:]:
        if rig in above[chain[-1]]:
            chain.append(rig)
    return tuple(chain)


def _above(rows: Sequence[Row], *, falls: bool) -> Mapping[str, set[str]]:
    """Give for each rig those that it is shown to be better than."""
    above: dict[str, set[str]] = {}
    for row in rows:
        one, other = str(row["from_rig"]), str(row["to_rig"])
        above.setdefault(one, set())
        above.setdefault(other, set())
        if row["low_95_pct"] > 0:
            above[one if falls else other].add(other if falls else one)
        if row["high_95_pct"] < 0:
            above[other if falls else one].add(one if falls else other)
    return above
