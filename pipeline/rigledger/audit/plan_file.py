"""A plan on disk: plan.toml says what was promised, frame.csv holds every cell and its lot."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import tomllib
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.audit.change import Change
from rigledger.audit.errors import PlanEditedError
from rigledger.audit.frame import PLACE, SPREADS, FrameCell
from rigledger.audit.plan import RANDOM, TARGETED, Asked, PlannedCell, RetestPlan
from rigledger.audit.strata import lot
from rigledger.files import write_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

COLUMNS = (
    *PLACE, "runs", "spread_pct", "power", "stratum", "part", "reason", "lot",
)  # fmt: skip
_PLAN, _FRAME = "plan.toml", "frame.csv"
_HEADER = """\
# A plan of what to re-test after a change. Written by the program and read back when the results
# are in: the draw can be repeated from the seed, and neither file may be edited.

"""
_ASKED = (
    "metric", "runs_per_cell", "sessions", "seed", "shift_pct", "tolerated_pct", "level",
    "alarm_rate",
)  # fmt: skip
_RESTORE = "restore the plan as it was written; to plan otherwise, make another one"


@dataclass(frozen=True, slots=True)
class PlanRecord:
    """A plan with the study and the change that it is for."""

    study: str
    change: Change
    plan: RetestPlan

    @property
    def plan_id(self) -> str:
        """A short name that follows from everything in the plan."""
        return _name_of(_held(self))[:12]


def write_plan(folder: Path, record: PlanRecord) -> None:
    """Write plan.toml and frame.csv into a folder that exists.

    Args:
        folder: The folder.
        record: The plan.
    """
    held = _held(record)
    write_text(folder / _FRAME, _frame_text(record.plan))
    write_text(folder / _PLAN, _HEADER + tomli_w.dumps({"plan_id": _name_of(held), **held}))


def read_plan(folder: Path) -> PlanRecord:
    """Read a plan back.

    Args:
        folder: Folder that holds plan.toml and frame.csv.

    Raises:
        PlanEditedError: A file is missing, can't be read, or is not as it was written; for a cell
            whose lot or part was changed, with its row.
    """
    held = _toml(folder / _PLAN)
    text = _text(folder / _FRAME)
    stated = held.pop("plan_id", None)
    rows = _rows(text)
    _refuse_other_draw(rows, str(held.get("asked", {}).get("seed")))
    if _hash(text) != held.get("frame_sha256"):
        raise PlanEditedError(
            "the frame is not the one that the plan was drawn from",
            file=_FRAME, next_step=_RESTORE,
        )  # fmt: skip
    if _name_of(held) != stated:
        raise PlanEditedError(
            "the plan's content doesn't give its plan_id",
            file=_PLAN, column="plan_id", value=str(stated), next_step=_RESTORE,
        )  # fmt: skip
    return _record(held, rows)


def _held(record: PlanRecord) -> dict[str, Any]:
    plan = record.plan
    asked = asdict(plan.asked)
    return {
        "study": record.study,
        "since": record.change.since.isoformat(),
        "frame_sha256": _hash(_frame_text(plan)),
        "versions": [{"column": name, "value": value} for name, value in record.change.versions],
        "builds": [
            {"workload": name, "title_build": build} for name, build in record.change.builds
        ],
        "asked": {name: asked[name] for name in _ASKED},
        "random": {
            "cells": len(plan.carried),
            "drawn": len(plan.part(RANDOM)),
            "p_limit": plan.p_limit,
            "alarms": plan.alarms,
            "bound_if_none": plan.bound_if_none,
            "can_stand": plan.can_stand,
        },
        "targeted": {"cells": len(plan.part(TARGETED))},
        "power": [
            {"spread_pct": spread, "power": power}
            for spread, power in zip(SPREADS, plan.promised, strict=True)
        ],
    }


def _frame_text(plan: RetestPlan) -> str:
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(COLUMNS)
    for held in plan.cells:
        own = asdict(held.cell) | {
            "power": held.power,
            "stratum": held.stratum,
            "part": held.part,
            "reason": held.reason or "",
            "lot": lot(plan.asked.seed, held.cell),
        }
        writer.writerow([own[name] for name in COLUMNS])
    return text.getvalue()


def _hash(text: str) -> str:
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _name_of(held: Mapping[str, Any]) -> str:
    return _hash(json.dumps(held, sort_keys=True, ensure_ascii=False))


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise PlanEditedError(
            f"can't be read: {error}", file=path.name,
            next_step="name the folder that rigledger audit --plan --out wrote",
        ) from error  # fmt: skip


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(_text(path))
    except tomllib.TOMLDecodeError as error:
        raise PlanEditedError(
            f"is no TOML any more: {error}", file=path.name, next_step=_RESTORE
        ) from error


def _rows(text: str) -> list[dict[str, str]]:
    lines = list(csv.reader(io.StringIO(text)))
    if not lines or tuple(lines[0]) != COLUMNS:
        raise PlanEditedError(
            "its columns are not those of a plan", file=_FRAME, row=1, next_step=_RESTORE
        )
    for number, line in enumerate(lines[1:], start=2):
        if len(line) != len(COLUMNS):
            raise PlanEditedError(
                f"the row has {len(line)} cells, not {len(COLUMNS)}",
                file=_FRAME, row=number, next_step=_RESTORE,
            )  # fmt: skip
    return [dict(zip(COLUMNS, line, strict=True)) for line in lines[1:]]


def _refuse_other_draw(rows: Sequence[Mapping[str, str]], seed: str) -> None:
    """Repeat the draw: every lot follows from the seed, and the smallest lots were drawn."""
    cells = [_cell(row, number) for number, row in enumerate(rows, start=2)]
    for number, (row, cell) in enumerate(zip(rows, cells, strict=True), start=2):
        if row["lot"] != lot(seed, cell):
            raise _edited(number, "lot", row, "the lot is not this cell's, by the plan's seed")
    for name in {row["stratum"] for row in rows if row["stratum"]}:
        own = [
            (row["lot"], n, row) for n, row in enumerate(rows, start=2) if row["stratum"] == name
        ]
        count = sum(row["part"] == RANDOM for _, _, row in own)
        for place, (_, number, row) in enumerate(sorted(own, key=lambda item: item[0])):
            if (row["part"] == RANDOM) != (place < count):
                raise _edited(number, "part", row, "the draw by lots gives another part")


def _edited(row: int, column: str, held: Mapping[str, str], message: str) -> PlanEditedError:
    return PlanEditedError(
        message, file=_FRAME, row=row, column=column, value=held[column], next_step=_RESTORE
    )


def _cell(row: Mapping[str, str], number: int) -> FrameCell:
    try:
        return FrameCell.of(row, float(row["spread_pct"]), (float(row["power"]),))
    except ValueError as error:
        raise PlanEditedError(
            f"is no number any more: {error}", file=_FRAME, row=number, next_step=_RESTORE
        ) from error


def _record(held: Mapping[str, Any], rows: Sequence[Mapping[str, str]]) -> PlanRecord:
    import datetime as dt

    cells = tuple(
        PlannedCell(
            (cell := _cell(row, number)), cell.power[0], row["stratum"], row["part"],
            row["reason"] or None,
        )
        for number, row in enumerate(rows, start=2)
    )  # fmt: skip
    random = held["random"]
    change = Change(
        tuple((item["column"], item["value"]) for item in held["versions"]),
        tuple((item["workload"], item["title_build"]) for item in held["builds"]),
        dt.date.fromisoformat(held["since"]),
    )
    plan = RetestPlan(
        asked=Asked(**held["asked"]),
        cells=cells,
        p_limit=random["p_limit"],
        alarms=random["alarms"],
        promised=tuple(item["power"] for item in held["power"]),
        bound_if_none=random["bound_if_none"],
        can_stand=random["can_stand"],
    )
    return PlanRecord(held["study"], change, plan)
