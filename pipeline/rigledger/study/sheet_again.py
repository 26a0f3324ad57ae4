"""A sheet for cells that are measured again: a further round, never a replacement."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rigledger.errors import StudyError, near_names
from rigledger.study.sheet import Maker, Progress, passes_per_round, usual_seed
from rigledger.study.sheet_model import MEASURED, Sheet, SheetBlock, SheetSession

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rigledger.study.model import Design, PlannedCell, PlannedRig

_Place = tuple[str, str, str]


@dataclass(frozen=True, slots=True)
class Again:
    """A workload and resolution to be measured again on a rig, at every level, and why."""

    rig: str
    workload: str
    resolution: str
    reason: str


def make_again_sheet(
    design: Design,
    rigs: Sequence[PlannedRig],
    wanted: Sequence[Again],
    *,
    progress: Progress,
    seed: str | None = None,
    passes: int | None = None,
) -> Sheet:
    """Make the sheet of a further round that holds some cells only.

    All levels of a cell are run again, since a value is only ever compared within its round.
    Measuring until a result pleases is guarded by the study: rounds beyond those it planned and
    allowed are refused.

    Args:
        design: The study's design.
        rigs: The rigs concerned.
        wanted: What to measure again.
        progress: What has been measured; tells each rig's next boot and round.
        seed: Any text; None for the usual one.
        passes: Runs of a cell; None for the passes of a planned round.

    Returns:
        The sheet; each measured run carries its reason.

    Raises:
        StudyError: A cell is not in the plan, a reason is blank, or the study allows no further
            round.
    """
    reasons = {(item.rig, item.workload, item.resolution): item.reason for item in wanted}
    cells = [cell for cell in design.planned_cells(rigs) if _place(cell) in reasons]
    _refuse_unplanned(design, rigs, wanted)
    maker = Maker(
        design,
        seed or usual_seed(design, rigs),
        passes,
        replace(progress, done={}),
    )
    blocks = [
        _block(maker, rig, _next_round(design, progress, rig.rig), cells, reasons)
        for rig in maker.drawn_rigs(rigs)
        if any(cell.rig == rig.rig for cell in cells)
    ]
    rounds = max((session.round for block in blocks for session in block.sessions), default=0)
    hours = design.times.day_hours
    return Sheet(
        design.study, maker.seed, passes or passes_per_round(design), rounds, hours, tuple(blocks)
    )


def _place(cell: PlannedCell) -> _Place:
    return (cell.rig, cell.workload, cell.resolution)


def _refuse_unplanned(design: Design, rigs: Sequence[PlannedRig], wanted: Sequence[Again]) -> None:
    planned = {" ".join(_place(cell)) for cell in design.planned_cells(rigs)}
    for item in wanted:
        name = f"{item.rig} {item.workload} {item.resolution}"
        if name not in planned:
            step = near_names(name, planned) or None
            raise StudyError("the plan has no such cell", value=name, next_step=step)
        if not item.reason.strip():
            raise StudyError(f"{name} is to be measured again without a reason", column="reason")


def _next_round(design: Design, progress: Progress, rig: str) -> int:
    last = max((number for name, number, *_ in progress.done if name == rig), default=0)
    following = max(last, design.rounds_planned) + 1
    most = design.rounds_planned + design.rounds_may_be_added
    if following > most:
        raise StudyError(
            f"{rig} has had all {most} rounds that the study allows",
            file="study.toml",
            column="study.rounds_may_be_added",
            value=str(design.rounds_may_be_added),
            next_step="a result is what its rounds say; further ones belong to a new study",
        )
    return following


def _block(
    maker: Maker,
    rig: PlannedRig,
    number: int,
    cells: Sequence[PlannedCell],
    reasons: Mapping[_Place, str],
) -> SheetBlock:
    own = [cell for cell in cells if cell.rig == rig.rig]
    sessions = maker.sessions(rig, number, own)
    told = tuple(_told(rig.rig, session, reasons) for session in sessions)
    return SheetBlock(rig.rig, rig.platform, rig.card, maker.swap_minutes(rig), told)


def _told(rig: str, session: SheetSession, reasons: Mapping[_Place, str]) -> SheetSession:
    runs = (
        replace(run, reason=reasons[rig, run.workload, run.resolution])
        if run.role == MEASURED
        else run
        for run in session.runs
    )
    return replace(session, runs=tuple(runs))
