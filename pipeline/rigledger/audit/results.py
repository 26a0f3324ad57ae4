"""What the re-test showed, cell by cell: the results of a plan, read from ``stack_shift``."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.audit.dated import control_shifts
from rigledger.audit.decide import Decision, Tested, bound_of, decide
from rigledger.audit.errors import OtherPlanError
from rigledger.audit.plan import RANDOM, TARGETED
from rigledger.audit.rows import rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rigledger.audit.frame import Study
    from rigledger.audit.plan import PlannedCell
    from rigledger.audit.plan_file import PlanRecord
    from rigledger.statistics.bounds import MovedBound

Row = dict[str, Any]
_NOT_MEASURED = "not measured"


@dataclass(frozen=True, slots=True)
class CellResult:
    """What became of one cell of the plan.

    Attributes:
        planned: The cell and its part.
        shift_pct, low_95_pct, high_95_pct, p: The shift; None where the cell wasn't measured.
        also_changed: What changed with it that wasn't announced.
        untold: Why it says nothing; None where it does.
        seen: Whether it was seen to move, by the plan's limit.
    """

    planned: PlannedCell
    shift_pct: float | None = None
    low_95_pct: float | None = None
    high_95_pct: float | None = None
    p: float | None = None
    also_changed: tuple[str, ...] = ()
    untold: str | None = _NOT_MEASURED
    seen: bool = False


@dataclass(frozen=True, slots=True)
class EffectResult:
    """How the change that the setting makes moved in a place where both levels were re-tested."""

    rig: str
    workload: str
    resolution: str
    contrast: str
    from_change_pct: float | None
    to_change_pct: float | None
    shift_pct: float
    low_95_pct: float
    high_95_pct: float
    moved: bool


@dataclass(frozen=True, slots=True)
class AuditResult:
    """The results of a plan and the decision.

    Attributes:
        record: The plan.
        cells: One entry a cell of the random and of the targeted part.
        effects: Where both levels were re-tested.
        decision: From the random part alone.
        by_rig, by_title: Bounds on the cells of each rig and title.
    """

    record: PlanRecord
    cells: tuple[CellResult, ...]
    effects: tuple[EffectResult, ...]
    decision: Decision
    by_rig: tuple[tuple[str, MovedBound], ...]
    by_title: tuple[tuple[str, MovedBound], ...]

    def part(self, name: str) -> tuple[CellResult, ...]:
        """The cells of one part."""
        return tuple(held for held in self.cells if held.planned.part == name)


def audit_results(study: Study, record: PlanRecord) -> AuditResult:
    """Hold the results of a re-test against its plan.

    Args:
        study: A connection with the source and the derived tables.
        record: The plan.

    Raises:
        OtherPlanError: The plan is of another study, or none of its cells was measured on the new
            version.
    """
    if record.study != study.design.study:
        raise OtherPlanError(
            f"the plan is of the study {record.study}, not of {study.design.study}",
            file="plan.toml", column="study", value=record.study,
            next_step="name the study that the plan was made for",
        )  # fmt: skip
    held = _shifts(study, record)
    found = [row for row in (_towards_new(record, row) for row in held) if row]
    cells = _cell_results(record, found, _instead(record, held))
    if not any(row["contrast"] == "none" for row in found) or all(
        cell.shift_pct is None for cell in cells
    ):
        _refuse(record)
    tested = _tested(record, cells)
    asked = record.plan.asked
    return AuditResult(
        record=record,
        cells=cells,
        effects=_effects(cells, found),
        decision=decide(tested, tolerated_pct=asked.tolerated_pct, level=asked.level),
        by_rig=_bounds_by("rig", tested, asked.level),
        by_title=_bounds_by("workload", tested, asked.level),
    )


def _shifts(study: Study, record: PlanRecord) -> list[Row]:
    metric = record.plan.asked.metric
    if record.change.control:
        return control_shifts(study, metric, record.change.since)
    return rows(study.con, "shifts", {"metric": metric})


def _instead(record: PlanRecord, held: Iterable[Row]) -> dict[tuple[str, ...], str]:
    """Say of cells that were measured on yet another version which one that is."""
    if record.change.control:
        return {}
    return {
        _place(row): ", ".join(
            f"{name} {json.loads(row['to_versions'])[name]}" for name, _ in record.change.versions
        )
        for row in held
        if row["contrast"] == "none" and record.change.versions
    }


def _place(row: Row) -> tuple[str, ...]:
    return (row["rig"], row["workload"], row["resolution"], row["level"], row["from_stack"])


def _refuse(record: PlanRecord) -> None:
    raise OtherPlanError(
        f"the study holds no results for plan {record.plan_id}: none of its cells was measured "
        f"with {record.change} from {record.change.since} on",
        file="plan.toml", column="plan_id", value=record.plan_id,
        next_step="admit the re-test's result sets first; if they are admitted, their versions "
        "differ from the announced ones: rigledger audit STUDY shows each rig's line",
    )  # fmt: skip


def _towards_new(record: PlanRecord, row: Row) -> Row | None:
    """Give a shift that leads from the old version to the announced one, or None.

    Going back to a version that was in use before is recorded the other way round: it is turned.
    """
    if record.change.control:
        return row
    before, after = (json.loads(row[name]) for name in ("from_versions", "to_versions"))
    if _is_new(record, row, after, row["to_build"]):
        return row
    if row["from_stack"] != row["to_stack"] and _is_new(record, row, before, row["from_build"]):
        return _turned(row)
    return None


def _is_new(record: PlanRecord, row: Row, versions: Mapping[str, Any], build: str) -> bool:
    change = record.change
    builds = dict(change.builds)
    return all(versions[name] == value for name, value in change.versions) and (
        row["workload"] not in builds or builds[row["workload"]] == build
    )


def _turned(row: Row) -> Row:
    def back(percent: float) -> float:
        return 100.0 * (1.0 / (1.0 + percent / 100.0) - 1.0)

    return row | {
        "from_stack": row["to_stack"],
        "to_stack": row["from_stack"],
        "from_build": row["to_build"],
        "to_build": row["from_build"],
        "from_change_pct": row["to_change_pct"],
        "to_change_pct": row["from_change_pct"],
        "shift_pct": back(row["shift_pct"]),
        "low_95_pct": back(row["high_95_pct"]),
        "high_95_pct": back(row["low_95_pct"]),
    }


def _cell_results(
    record: PlanRecord, found: Iterable[Row], instead: Mapping[tuple[str, ...], str]
) -> tuple[CellResult, ...]:
    by_place = {_place(row): row for row in found if row["contrast"] == "none"}
    return tuple(
        _cell_result(
            record,
            held,
            by_place.get((*held.cell.key, held.cell.stack)),
            instead.get((*held.cell.key, held.cell.stack)),
        )
        for held in record.plan.cells
        if held.part in {RANDOM, TARGETED}
    )


def _cell_result(
    record: PlanRecord, held: PlannedCell, row: Row | None, instead: str | None
) -> CellResult:
    if row is None:
        untold = _NOT_MEASURED if instead is None else f"measured with {instead} instead"
        return CellResult(held, untold=untold)
    announced = {name for name, _ in record.change.versions}
    if held.cell.workload in dict(record.change.builds):
        announced.add("title_build")
    also = tuple(name for name in row["changed"].split(", ") if name and name not in announced)
    why = row["confounded_by"] or row["no_verdict"]
    return CellResult(
        held,
        row["shift_pct"],
        row["low_95_pct"],
        row["high_95_pct"],
        row["p"],
        also,
        None if row["p"] is not None else f"no verdict: {why}",
        row["p"] is not None and row["p"] <= record.plan.p_limit,
    )


def _tested(record: PlanRecord, cells: Iterable[CellResult]) -> list[Tested]:
    told = {cell.planned.cell.key: cell for cell in cells if cell.planned.part == RANDOM}
    tested = []
    for held in record.plan.carried:
        result = told.get(held.cell.key)
        drawn = result is not None and result.p is not None
        seen = result is not None and result.seen
        tested.append(
            Tested(held.stratum, held.cell.rig, held.cell.workload, held.power, drawn, seen)
        )
    return tested


def _bounds_by(
    part: str, tested: Sequence[Tested], level: float
) -> tuple[tuple[str, MovedBound], ...]:
    names = sorted({getattr(cell, part) for cell in tested})
    return tuple(
        (name, bound_of([cell for cell in tested if getattr(cell, part) == name], level=level))
        for name in names
    )


def _effects(cells: Iterable[CellResult], found: Iterable[Row]) -> tuple[EffectResult, ...]:
    places = {
        (held.cell.rig, held.cell.workload, held.cell.resolution, held.cell.stack)
        for held in (cell.planned for cell in cells)
    }
    return tuple(
        EffectResult(
            row["rig"], row["workload"], row["resolution"], row["contrast"],
            row["from_change_pct"], row["to_change_pct"], row["shift_pct"], row["low_95_pct"],
            row["high_95_pct"], row["moved"],
        )
        for row in found
        if row["contrast"] != "none"
        and (row["rig"], row["workload"], row["resolution"], row["from_stack"]) in places
    )  # fmt: skip
