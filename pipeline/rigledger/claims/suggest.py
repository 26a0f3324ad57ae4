"""The sentences that the data do support, most important first, each ready for claims.toml.

Material changes by size, each with the scope on which it depends; then geometric means over titles,
on what the changes depend, where nothing changes materially, and orders of rigs. Whatever is
proposed was judged as a claim and holds.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from rigledger.claims.found import PASSED, discovered, kept
from rigledger.claims.judge import judge
from rigledger.claims.model import HOLDS, Claim, Scope
from rigledger.claims.narrow import figures_of, holds, pinned
from rigledger.claims.points import change_points
from rigledger.claims.printed import understood
from rigledger.claims.ranked import rankings
from rigledger.claims.rectangles import clean_scopes
from rigledger.claims.same import immaterial_at

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterator, Sequence

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Dimension, Judged
    from rigledger.claims.wording import Wording

_MOST_BLOCKS = 4


def suggest(
    evidence: Evidence,
    wording: Wording,
    *,
    taken: Collection[str] = (),
    metrics: Sequence[str] = (),
    most: int = 6,
) -> tuple[Judged, ...]:
    """Propose claims that hold.

    Args:
        evidence: Rows of the derived tables.
        wording: Words for the sentences.
        taken: Names that claims have already.
        metrics: The study's metrics, the most important first.
        most: How many of each kind at most.

    Returns:
        Judged claims, each of which holds, the most important first.
    """
    order = {name: place for place, name in enumerate(metrics)}
    found: list[Judged] = []
    for kind in (_changes, _means, _dependences, _same, rankings):
        judged = [judge(_worded(claim, evidence, wording), evidence) for claim in kind(evidence)]
        held = [one for one in judged if one.verdict == HOLDS]
        found += sorted(held, key=lambda one: (-_weight(one), _rank(one, order)))[:most]
    return tuple(_named(one, names) for one, names in _with_names(found, taken))


def _worded(claim: Claim, evidence: Evidence, wording: Wording) -> Claim:
    told = pinned(claim, evidence)
    return replace(told, sentence=wording.sentence(told))


def _weight(judged: Judged) -> float:
    """Give how much a claim says: the size of a change, or over how many cells there is none."""
    if judged.claim.quantity == "no_difference":
        return float(len(judged.cells))
    return round(abs(judged.value or 0.0))


def _rank(judged: Judged, order: dict[str, int]) -> tuple[int, str]:
    (metric,) = judged.claim.scope.of("metric") or ("",)
    return order.get(metric, len(order)), str(judged.claim.scope)


def _with_names(found: Sequence[Judged], taken: Collection[str]) -> Iterator[tuple[Judged, str]]:
    used = set(taken)
    for one in found:
        name = base = _name(one.claim)
        number = 1
        while name in used:
            number += 1
            name = f"{base}-{number}"
        used.add(name)
        yield one, name


def _name(claim: Claim) -> str:
    parts = [
        claim.quantity,
        *_of(claim, "workload"),
        *_of(claim, "contrast"),
        *_of(claim, "metric"),
    ]
    if claim.factor:
        parts.insert(1, claim.factor)
    return "-".join(parts[:6]).replace("_", "-").lower()


def _of(claim: Claim, dimension: Dimension) -> tuple[str, ...]:
    names = claim.scope.of(dimension) or ()
    return names if len(names) == 1 else ()


def _named(judged: Judged, name: str) -> Judged:
    return replace(judged, claim=replace(judged.claim, claim=name))


def _scope(**names: str) -> Scope:
    scope = Scope()
    for dimension, name in names.items():
        scope = scope.narrowed(dimension, (name,))  # type: ignore[arg-type]
    return scope


def _grouped(rows: Sequence[Row], *names: str) -> Iterator[tuple[dict[str, str], list[Row]]]:
    groups: dict[tuple[str, ...], list[Row]] = defaultdict(list)
    for row in rows:
        groups[tuple(str(row[name]) for name in names)].append(row)
    for key, held in sorted(groups.items()):
        yield dict(zip(names, key, strict=True)), held


def _changes(evidence: Evidence) -> Iterator[Claim]:
    """Propose each workload's material changes, gains and losses, with their scope."""
    every = evidence.within(evidence.judged, Scope())
    for names, rows in _grouped(every, "contrast", "metric", "workload"):
        scope = _scope(**names)
        missing = evidence.within(evidence.missing, scope)
        for sign in (-1, 1):
            true_of = [r for r in rows if r["size"] == "material" and r["change_pct"] * sign > 0]
            others = [row for row in rows if row not in true_of]
            yield from _blocks(scope, true_of, [*others, *missing], partial(_figures, evidence))


def _blocks(
    scope: Scope,
    true_of: Sequence[Row],
    false_of: Sequence[Row],
    tries: Callable[[Scope], Iterator[Claim]],
) -> Iterator[Claim]:
    """Cover what is true with few scopes, and give the first claim that fits each."""
    left = list(true_of)
    for _ in range(_MOST_BLOCKS):
        if not left:
            return
        scopes = [scope] if not false_of else clean_scopes(scope, left, (), false_of)
        if not scopes:
            return
        chosen = next((claim for one in scopes[:_MOST_BLOCKS] for claim in tries(one)), None)
        if chosen is None:
            return
        yield chosen
        left = [row for row in left if not _inside(row, chosen.scope)]


def _inside(row: Row, scope: Scope) -> bool:
    return all(row[name] in held for name, held in scope.named if name in row)


def _figures(evidence: Evidence, scope: Scope) -> Iterator[Claim]:
    """Try one figure for all cells, then the largest."""
    changes = [float(row["change_pct"]) for row in evidence.within(evidence.judged, scope)]
    middle = (min(changes) + max(changes)) / 2
    largest = max(changes, key=abs)
    for text in figures_of(middle, None, up_to=False):
        yield from _if_holds(Claim("s", "s", "change", scope, understood(text)), evidence)
    for text in figures_of(largest, None, up_to=True):
        yield from _if_holds(Claim("s", "s", "largest_change", scope, understood(text)), evidence)


def _if_holds(claim: Claim, evidence: Evidence) -> Iterator[Claim]:
    """Give a claim of which the data chose the figure, if it holds all the same."""
    if holds(claim, evidence, PASSED / 2):
        yield claim


def _means(evidence: Evidence) -> Iterator[Claim]:
    """Propose geometric means: over all rigs, else on a rig, where each is shown to be a change."""
    for names, rows in _grouped(evidence.overall, "contrast", "metric", "title_set"):
        scope = _scope(**names)
        whole = list(_mean(scope, rows, evidence))
        yield from whole
        for name in () if whole else sorted({str(row["rig"]) for row in rows}):
            of_rig = [row for row in rows if row["rig"] == name]
            yield from _mean(scope.narrowed("rig", (name,)), of_rig, evidence)


def _mean(scope: Scope, rows: Sequence[Row], evidence: Evidence) -> Iterator[Claim]:
    if any(row["titles_missing"] or row["change_pct"] is None for row in rows):
        return
    if any(row["these_low_95_pct"] * row["these_high_95_pct"] <= 0 for row in rows):
        return
    changes = [float(row["change_pct"]) for row in rows]
    for text in figures_of((min(changes) + max(changes)) / 2, None, up_to=False):
        claim = Claim("s", "s", "geometric_mean_change", scope, understood(text))
        if holds(claim, evidence, PASSED / 2):
            yield claim
            return


def _dependences(evidence: Evidence) -> Iterator[Claim]:
    """Propose on what changes depend."""
    every = evidence.within(evidence.factors, Scope())
    for names, rows in _grouped(every, "contrast", "metric", "workload"):
        for factor in ("platform", "card", "platform_card"):
            of_factor = [row for row in rows if row["factor"] == factor]
            shown = [row for row in of_factor if row["depends"]]
            others = [row for row in of_factor if not row["depends"]]
            claim = Claim("s", "s", "depends_on", _scope(**names), factor=factor)
            yield from _blocks(claim.scope, shown, others, partial(_with_scope, claim))


def _with_scope(claim: Claim, scope: Scope) -> Iterator[Claim]:
    yield replace(claim, scope=scope)


def _same(evidence: Evidence) -> Iterator[Claim]:
    """Propose where nothing changes materially, the most cells first."""
    every = evidence.within(evidence.judged, Scope())
    for names, rows in _grouped(every, "contrast", "metric"):
        scope = _scope(**names)
        near = partial(immaterial_at, change_points(rows), evidence.material_change_pct)
        sure, level = discovered(near)
        true_of, others = kept(rows, sure), kept(rows, ~sure)
        missing = evidence.within(evidence.missing, scope)
        tries = partial(_nothing, evidence, level)
        yield from _blocks(scope, true_of, [*others, *missing], tries)


def _nothing(evidence: Evidence, level: float, scope: Scope) -> Iterator[Claim]:
    """Give the claim that nothing changes in a scope that the data chose, if it holds."""
    claim = Claim("s", "s", "no_difference", scope)
    if holds(claim, evidence, level):
        yield claim
