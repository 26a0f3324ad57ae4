"""The results of a re-test in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from rigledger.audit.plan import RANDOM, TARGETED
from rigledger.counting import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.audit.results import AuditResult, CellResult, EffectResult
    from rigledger.statistics.bounds import MovedBound

_MOST_SHOWN = 10


def result_lines(result: AuditResult) -> Iterator[str]:
    """Say what was seen, what follows from it, and what to do."""
    record, plan = result.record, result.record.plan
    random, aimed = result.part(RANDOM), result.part(TARGETED)
    told = [cell for cell in random if cell.p is not None]
    seen = [cell for cell in told if cell.seen]
    yield f"Results of re-test plan {record.plan_id}: {record.change} from {record.change.since} on"
    yield (
        f"Random part: {len(told)} of {counted(len(random), 'drawn cell')} measured, "
        f"{len(seen)} seen to move (p at most {plan.p_limit:.2g})."
    )
    yield from _seen(seen)
    yield from _untold(random)
    yield from _bounds(result)
    yield from _means(told)
    yield f"Targeted part, which carries no bound: {_measured(aimed)}."
    yield from _seen([cell for cell in aimed if cell.seen])
    yield from _untold(aimed)
    yield from _also(result.cells)
    yield from _effects(result.effects)
    yield decision_line(result)


def _measured(cells: Sequence[CellResult]) -> str:
    told = sum(cell.p is not None for cell in cells)
    seen = sum(cell.seen for cell in cells)
    return f"{told} of {counted(len(cells), 'cell')} measured, {seen} seen to move"


def _seen(cells: Sequence[CellResult]) -> Iterator[str]:
    """Show the cells that moved most; the rest stand in stack_shift, and in --json."""
    largest = sorted(cells, key=lambda cell: -abs(cell.shift_pct or 0.0))
    yield from (f"  {_cell(cell)}" for cell in largest[:_MOST_SHOWN])
    if len(cells) > _MOST_SHOWN:
        yield f"  and {counted(len(cells) - _MOST_SHOWN, 'further cell')}"


def _cell(cell: CellResult) -> str:
    return (
        f"{' '.join(cell.planned.cell.key)}: {cell.shift_pct:+.1f} % "
        f"({cell.low_95_pct:+.1f} to {cell.high_95_pct:+.1f} %), p {cell.p:.2g}"
    )


def _untold(cells: Sequence[CellResult]) -> Iterator[str]:
    untold = [cell for cell in cells if cell.untold]
    for cell in untold[:3]:
        yield f"  nothing said of {' '.join(cell.planned.cell.key)}: {cell.untold}"
    if len(untold) > 3:
        yield f"  nothing said of {counted(len(untold) - 3, 'further cell')}"


def _also(cells: Sequence[CellResult]) -> Iterator[str]:
    """Name what changed beside what was announced."""
    also = sorted({(cell.planned.cell.rig, name) for cell in cells for name in cell.also_changed})
    for rig, name in also:
        yield f"Note: on {rig} {name} changed too; what moved there may be due to that."


def _bounds(result: AuditResult) -> Iterator[str]:
    asked, bound = result.record.plan.asked, result.decision.bound
    yield (
        f"At most {bound.at_most} of {bound.cells} cells moved by {asked.shift_pct:g} % or more, "
        f"at {100 * asked.level:g} % ({bound.untested_at_most} beyond those seen)."
    )
    for kind, parts in (("rig", result.by_rig), ("title", result.by_title)):
        if len(parts) > 1:
            yield f"  by {kind}: {', '.join(_part(name, held) for name, held in parts)}"


def _means(told: Sequence[CellResult]) -> Iterator[str]:
    """Give the geometric mean of the shifts by rig, title and level."""
    for kind, column in (("rig", "rig"), ("title", "workload"), ("level", "level")):
        logs: dict[str, list[float]] = {}
        for cell in told:
            name = str(getattr(cell.planned.cell, column))
            logs.setdefault(name, []).append(math.log1p((cell.shift_pct or 0.0) / 100))
        means = {name: 100 * math.expm1(math.fsum(held) / len(held)) for name, held in logs.items()}
        if means:
            parts = ", ".join(f"{name} {means[name]:+.1f} %" for name in sorted(means))
            yield f"  mean shift by {kind}: {parts}"


def _part(name: str, held: MovedBound) -> str:
    return f"{name} at most {held.at_most} of {held.cells} ({held.moved} of {held.tested} seen)"


def _effects(effects: Sequence[EffectResult]) -> Iterator[str]:
    if not effects:
        return
    moved = [held for held in effects if held.moved]
    yield (
        f"What the setting does, in {counted(len(effects), 'comparison')} re-tested at both "
        f"levels: moved in {len(moved)}."
    )
    for held in sorted(effects, key=lambda one: (not one.moved, -abs(one.shift_pct)))[:5]:
        verdict = "moved" if held.moved else "not shown to have moved"
        yield (
            f"  {held.rig} {held.workload} {held.resolution} {held.contrast}: "
            f"{held.from_change_pct:+.1f} % before, {held.to_change_pct:+.1f} % after, {verdict} "
            f"({held.low_95_pct:+.1f} to {held.high_95_pct:+.1f} %)"
        )


def decision_line(result: AuditResult) -> str:
    """Say the decision in a sentence."""
    decision, asked = result.decision, result.record.plan.asked
    most = f"{decision.tolerated} ({asked.tolerated_pct:g} %)"
    if decision.verdict == "stands":
        return (
            f"Decision: the table stands; at most {decision.bound.at_most} moved, and {most} are "
            "tolerated."
        )
    if decision.named is None and not decision.bound.moved:
        return (
            f"Decision: test more, in the end all; nothing drawn was seen to move, but so few "
            f"cells can't show that at most {most} did."
        )
    if decision.named is None:
        return (
            f"Decision: re-test all; that at most {most} moved can't be shown, nor that it is "
            "confined to a few titles or rigs."
        )
    named = decision.named
    plural = "s" if len(named.names) > 1 else ""
    return (
        f"Decision: re-test the {named.kind}{plural} {', '.join(named.names)} "
        f"({counted(named.cells, 'cell')}); elsewhere at most {named.elsewhere.at_most} of "
        f"{named.elsewhere.cells} moved, at {100 * asked.level:g} % for whichever are named."
    )
