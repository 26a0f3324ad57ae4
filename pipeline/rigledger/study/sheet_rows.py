"""A run sheet as rows, text, CSV and JSON values; its other forms are made from the same rows."""

from __future__ import annotations

import csv
import io
from typing import TYPE_CHECKING, Any

from rigledger.contract import load_contract
from rigledger.counting import counted

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.study.model import Design
    from rigledger.study.sheet_model import DayPart, Sheet, SheetRun

COLUMNS = (
    "day", "starts", "rig", "platform", "card", "session", "boot", "round", "run", "workload",
    "title", "resolution", "level", "role", "pass", "minutes", "reason",
)  # fmt: skip


def sheet_rows(sheet: Sheet, design: Design, *, day_starts: str = "09:00") -> list[dict[str, Any]]:
    """Give a row a run, in order; names as in the table ``runs`` of a result set.

    Args:
        sheet: The sheet.
        design: Its study's design, for titles.
        day_starts: Clock time at which measuring starts each day, ``09:00``.

    Returns:
        Rows with the keys of `COLUMNS`; ``starts`` is the clock time of the run, ``minutes`` how
        long it takes.
    """
    return [
        _row(part, run, clock, design)
        for part in sheet.days
        for run, clock in _clocks(part, minutes_of(day_starts))
    ]


def _clocks(part: DayPart, day_starts: float) -> Iterable[tuple[SheetRun, float]]:
    clock = day_starts + part.ends - sum(run.minutes for run in part.session.runs)
    for run in part.session.runs:
        yield run, clock
        clock += run.minutes


def _row(part: DayPart, run: SheetRun, clock: float, design: Design) -> dict[str, Any]:
    return {
        "day": part.day,
        "starts": clock_text(clock),
        "rig": part.block.rig,
        "platform": part.block.platform,
        "card": part.block.card,
        "session": part.session.session,
        "boot": part.session.boot,
        "round": part.session.round,
        "run": run.run,
        "workload": run.workload,
        "title": design.workload(run.workload).title,
        "resolution": run.resolution,
        "level": run.level,
        "role": run.role,
        "pass": run.pass_number,
        "minutes": round(run.minutes, 2),
        "reason": run.reason,
    }


def minutes_of(clock: str) -> float:
    """Read a clock time ``09:00`` as minutes since midnight.

    Raises:
        ValueError: It is none.
    """
    hours, minutes = (int(part) for part in clock.split(":"))
    if not (0 <= hours < 24 and 0 <= minutes < 60):
        raise ValueError(clock)
    return hours * 60 + minutes


def clock_text(minutes: float) -> str:
    """Write minutes since midnight as a clock time; beyond midnight the hours start again at 0."""
    whole = int(minutes)
    return f"{whole // 60 % 24:02d}:{whole % 60:02d}"


def sheet_csv(rows: list[dict[str, Any]]) -> str:
    """Give the sheet as CSV: a header and a row a run."""
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def sheet_json(sheet: Sheet, rows: list[dict[str, Any]]) -> dict[str, Any]:
    """Give the sheet as plain values for JSON."""
    return {"study": sheet.study, "seed": sheet.seed, "counts": sheet.counts, "runs": rows}


def sheet_text(sheet: Sheet, *, day_starts: str = "09:00") -> str:
    """Give the sheet as text a person works through: by day, rig and boot, a line a run."""
    lines = [f"Run sheet of {sheet.study}, order drawn with seed {sheet.seed}", counts_text(sheet)]
    start = minutes_of(day_starts)
    day = 0
    for part in sheet.days:
        if part.day != day:
            day = part.day
            lines += ["", day_text(sheet, day, day_starts)]
        lines += _part_lines(part, start)
    return "\n".join(lines) + "\n"


def day_text(sheet: Sheet, day: int, day_starts: str) -> str:
    """Say when a day of measuring starts and ends, ``Day 1, 09:00 to 16:44 (7 h 44 min)``."""
    minutes = _day_minutes(sheet, day)
    ends = clock_text(minutes_of(day_starts) + minutes)
    return f"Day {day}, {day_starts} to {ends} ({hours_text(minutes)})"


def _day_minutes(sheet: Sheet, day: int) -> float:
    return sum(part.ends - part.starts for part in sheet.days if part.day == day)


def _part_lines(part: DayPart, day_starts: float) -> list[str]:
    block, session = part.block, part.session
    head = []
    if part.swap_first and block.swap_minutes:
        at = clock_text(day_starts + part.starts)
        head.append(f"  {at}  put {block.card} into {block.platform} ({block.swap_minutes:g} min)")
    boots_at = clock_text(day_starts + part.ends - session.minutes)
    head.append(
        f"  {boots_at}  boot {session.boot} of {block.rig}, round {session.round}, "
        f"level {' and '.join(session.levels)} ({session.boot_minutes:g} min)"
    )
    return head + [_run_line(run, clock) for run, clock in _clocks(part, day_starts)]


def _run_line(run: SheetRun, clock: float) -> str:
    note = "" if run.role == "measured" else f"  {run.role}"
    why = f"  again: {run.reason}" if run.reason else ""
    return (
        f"    {clock_text(clock)}  {run.run}  {run.workload}  {run.resolution}  {run.level}"
        f"  pass {run.pass_number}{note}{why}"
    )


def counts_text(sheet: Sheet) -> str:
    """Say in a sentence what the sheet promises."""
    held = sheet.counts
    measured = counted(held["measured_runs"], "measured run")
    return (
        f"{measured} in {counted(held['cells'], 'cell')} and "
        f"{counted(held['sentinel_runs'], 'sentinel run')}: {counted(held['rigs'], 'rig')}, "
        f"{counted(held['card_swaps'], 'card swap')}, {counted(held['boots'], 'boot')}, "
        f"{hours_text(sheet.minutes)} over {counted(held['days'], 'day')}"
    )


def hours_text(minutes: float) -> str:
    """Write minutes as hours and minutes, ``3 h 05 min``."""
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02d} min"


def column_titles() -> dict[str, str]:
    """Give a heading for each column, the contract's where a table of a result set has it."""
    contract = load_contract()
    held = {
        column.name: column.title
        for name in ("rigs", "sessions", "runs")
        for column in contract.table("handed_in", name).fields
    }
    return {name: held.get(name, name.capitalize()) for name in COLUMNS}
