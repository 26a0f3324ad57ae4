"""The run sheet of a re-test: one block a rig, its cells drawn into boots as any sheet does."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from rigledger.audit.plan import RANDOM, TARGETED
from rigledger.study.model import PlannedCell, PlannedRig
from rigledger.study.sheet import Maker, Progress
from rigledger.study.sheet_model import MEASURED, Sheet, SheetBlock, SheetSession

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import duckdb

    from rigledger.audit.plan import PlannedCell as Held
    from rigledger.audit.plan import RetestPlan
    from rigledger.study.model import Design


def rigs_of(con: duckdb.DuckDBPyConnection, contributor: str) -> list[PlannedRig]:
    """Give a contributor's rigs by their own names, with platform and card."""
    query = (
        "select rig, platform, card, class from rigs join cards using (card)"
        " where contributor = ? order by rig"
    )
    held = con.execute(query, [contributor]).fetchall()
    return [PlannedRig(rig[len(contributor) + 1 :], *hardware) for rig, *hardware in held]


def last_boots(con: duckdb.DuckDBPyConnection, contributor: str) -> dict[str, int]:
    """Give the highest boot counter of each of a contributor's rigs."""
    query = (
        "select rig, max(boot) from sessions join rigs using (rig)"
        " where contributor = ? group by rig order by rig"
    )
    held = con.execute(query, [contributor]).fetchall()
    return {rig[len(contributor) + 1 :]: boot for rig, boot in held}


def retest_sheet(
    plan: RetestPlan,
    design: Design,
    rigs: Sequence[PlannedRig],
    contributor: str,
    boots: Mapping[str, int],
) -> Sheet:
    """Make the sheet of one contributor's part of a plan.

    The two parts of the plan are run together, in one order drawn by lot: which part a cell belongs
    to must not show in how it is measured. Rounds start again with the new stack.

    Args:
        plan: The plan.
        design: The study's design.
        rigs: The contributor's rigs.
        contributor: Whose part.
        boots: Each rig's latest boot.
    """
    asked = plan.asked
    passes = -(-asked.runs_per_cell // asked.sessions)
    maker = Maker(design, asked.seed, passes, Progress(last_boot=boots))
    tested = [
        held
        for part in (RANDOM, TARGETED)
        for held in plan.part(part)
        if held.cell.contributor == contributor
    ]
    blocks = tuple(_blocks(maker, rigs, tested, contributor, asked.sessions))
    return Sheet(design.study, asked.seed, passes, asked.sessions, design.times.day_hours, blocks)


def _blocks(
    maker: Maker, rigs: Sequence[PlannedRig], tested: Sequence[Held], contributor: str,
    sessions: int,
) -> Iterator[SheetBlock]:  # fmt: skip
    for rig in maker.drawn_rigs(rigs):
        own = [held for held in tested if held.cell.rig == f"{contributor}.{rig.rig}"]
        cells = [
            PlannedCell(rig.rig, held.cell.workload, held.cell.resolution, held.cell.level)
            for held in own
        ]
        made = [
            _told(session, own)
            for number in range(1, sessions + 1)
            for session in maker.sessions(rig, number, cells)
        ]
        if made:
            yield SheetBlock(rig.rig, rig.platform, rig.card, maker.swap_minutes(rig), tuple(made))


def _told(session: SheetSession, tested: Sequence[Held]) -> SheetSession:
    reasons = {held.cell.key[1:]: held.reason or "drawn at random" for held in tested}
    runs = (
        replace(run, reason=reasons[run.workload, run.resolution, run.level])
        if run.role == MEASURED
        else run
        for run in session.runs
    )
    return replace(session, runs=tuple(runs))
