"""A result set made from a folder of captures: the file names say what was run.

A pattern names the parts of a file name in braces, ``{workload}_{resolution}_{level}_{pass}.csv``;
``{rig}``, ``{session}`` and ``{role}`` may be among them. Only the declared column is copied: logs
carry user names and paths.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rigledger.captures.packed import UNREADABLE, open_text
from rigledger.errors import StudyError, near_names
from rigledger.files import folder_beside
from rigledger.intake.file_names import PatternError, compiled_pattern
from rigledger.study.kit_folder import kit_files
from rigledger.study.kit_model import Kit, Tester, make_kit
from rigledger.study.section import problem_with
from rigledger.study.sheet_model import MEASURED, Sheet, SheetBlock, SheetRun, SheetSession

if TYPE_CHECKING:
    import re
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from rigledger.contract import Contract
    from rigledger.study.model import Design, PlannedRig

_USUAL = {"session": "1", "role": MEASURED}
_FRAME_COLUMN = "frame_time"


@dataclass(frozen=True, slots=True)
class CaptureFiles:
    """Where captures are and how they are read.

    Attributes:
        folder: Folder in which they lie, searched with its subfolders.
        pattern: Pattern of their paths below the folder, in POSIX form.
        column: Column to copy: frame times, or points in time.
        unit: Its unit.
        timestamps: Whether the column holds points in time.
        delimiter: Delimiter of the files.
        encoding: Their encoding.
        from_s: Where in each capture the run's window starts; None for its start.
        for_s: How long the window is; None for the passage's length as the study states it.
        whole: Whether each capture is one run from start to end; no window is written then.
    """

    folder: Path
    pattern: str
    column: str
    unit: str
    timestamps: bool = False
    delimiter: str = ","
    encoding: str = "utf-8-sig"
    from_s: float | None = None
    for_s: float | None = None
    whole: bool = False


@dataclass(frozen=True, slots=True)
class _Study:
    """What file names are held against."""

    design: Design
    contract: Contract
    rigs: Sequence[PlannedRig]

    def legal(self) -> dict[str, list[str]]:
        return {
            "workload": [item.workload for item in self.design.workloads],
            "level": [item.level for item in self.design.levels],
            "rig": [item.rig for item in self.rigs],
        }


@dataclass(frozen=True, slots=True)
class _Found:
    path: Path
    rig: str
    session: str
    run: SheetRun


def kit_from_captures(
    files: CaptureFiles,
    out: Path,
    design: Design,
    contract: Contract,
    *,
    rigs: Sequence[PlannedRig],
    tester: Tester,
) -> Kit:
    """Make a result set from captures: runs and windows are there, versions are to be typed.

    Args:
        files: The captures.
        out: Folder to be made.
        design: The study's design.
        contract: The contract.
        rigs: The rigs measured; with one, the pattern need not name it.
        tester: Whose set it is.

    Returns:
        The kit as written.

    Raises:
        StudyError: The pattern lacks a part, matches no file, or a file's name or header doesn't
            fit the study.
        FileExistsError: ``out`` exists.
    """
    found = _find(files, _Study(design, contract, rigs))
    sheet = _sheet(design, rigs, found)
    kit = make_kit(design, contract, rigs, sheet, tester=tester, captures=True)
    rows, copies = _with_captures(kit, files, design, found)
    texts = kit_files(kit.with_rows("runs", rows))
    texts["result-set.toml"] += _capture_part(files)
    with folder_beside(out) as temporary:
        (temporary / "captures").mkdir()
        for name, text in texts.items():
            (temporary / name).write_text(text, encoding="utf-8", newline="\n")
        for source, name in copies:
            _copied(files, source, temporary / name)
    return kit.with_rows("runs", rows)


def _compiled(pattern: str) -> re.Pattern[str]:
    try:
        return compiled_pattern(pattern)
    except PatternError as error:
        raise _pattern_error(pattern, error.message, error.next_step) from error


def _pattern_error(pattern: str, message: str, step: str | None) -> StudyError:
    return StudyError(message, column="pattern", value=pattern, next_step=step)


def _find(files: CaptureFiles, study: _Study) -> list[_Found]:
    pattern = _compiled(files.pattern)
    found = []
    for path in sorted(files.folder.rglob("*")):
        name = path.relative_to(files.folder).as_posix()
        match = pattern.fullmatch(name)
        if path.is_file() and match:
            found.append(_read_name(path, name, match.groupdict(), study))
    if not found:
        held = [path.name for path in sorted(files.folder.rglob("*")) if path.is_file()][:3]
        step = f"files there are, for example, {', '.join(held)}" if held else "the folder is empty"
        raise _pattern_error(files.pattern, "pattern: matches no file", step)
    return _in_order(found)


def _read_name(path: Path, name: str, parts: Mapping[str, str], study: _Study) -> _Found:
    held = {**_USUAL, **parts}
    if len(study.rigs) == 1:
        held.setdefault("rig", study.rigs[0].rig)
    if "rig" not in held:
        raise _pattern_error(name, "pattern: with several rigs it must name the {rig}", None)
    _check_names(name, held, study)
    run = SheetRun(
        "",
        held["workload"],
        held["resolution"],
        held["level"],
        held["role"],
        int(held["pass"]),
        study.design.workload(held["workload"]).passage_length_s / 60,
    )
    return _Found(path, held["rig"], held["session"], run)


def _check_names(name: str, held: Mapping[str, str], study: _Study) -> None:
    for part, names in study.legal().items():
        if held[part] not in names:
            step = near_names(held[part], names)
            raise StudyError(f"no {part}", file=name, column=part, value=held[part], next_step=step)
    table = study.contract.table("handed_in", "runs")
    number = int(held["pass"]) if held["pass"].isdigit() else held["pass"]
    values: dict[str, Any] = {**held, "pass": number}
    for part in ("resolution", "session", "role", "pass"):
        problem = problem_with(table.field(part), values[part])
        if problem:
            raise StudyError(problem, file=name, column=part, value=held[part])


def _in_order(found: list[_Found]) -> list[_Found]:
    return sorted(
        found, key=lambda item: (item.rig, _boot(item.session), item.session, item.path.as_posix())
    )


def _boot(session: str) -> int:
    return int(session) if session.isdigit() and int(session) > 0 else 1


def _sheet(design: Design, rigs: Sequence[PlannedRig], found: Sequence[_Found]) -> Sheet:
    blocks = [_block(rig, [item for item in found if item.rig == rig.rig]) for rig in rigs]
    return Sheet(design.study, "none", 0, 1, design.times.day_hours, tuple(blocks))


def _block(rig: PlannedRig, found: Sequence[_Found]) -> SheetBlock:
    names = list(dict.fromkeys(item.session for item in found))
    sessions = tuple(_session(name, place, found) for place, name in enumerate(names, start=1))
    return SheetBlock(rig.rig, rig.platform, rig.card, 0.0, sessions)


def _session(name: str, place: int, found: Sequence[_Found]) -> SheetSession:
    own = [item for item in found if item.session == name]
    runs = tuple(
        replace(item.run, run=str(number).zfill(3)) for number, item in enumerate(own, start=1)
    )
    levels = tuple(dict.fromkeys(run.level for run in runs))
    boot = int(name) if name.isdigit() and int(name) > 0 else place
    return SheetSession(own[0].rig, name, boot, 1, levels, 0.0, runs)


def _with_captures(
    kit: Kit, files: CaptureFiles, design: Design, found: Sequence[_Found]
) -> tuple[list[dict[str, Any]], list[tuple[Path, str]]]:
    """Give the rows of runs with their captures, and which file is copied to which name."""
    rows = []
    copies = []
    for row, item in zip(kit.table("runs").rows, found, strict=True):
        name = f"captures/{row['rig']}_{row['session']}_{row['run']}.csv"
        passage = design.workload(item.run.workload).passage_length_s
        window = {} if files.whole else {"capture_from_s": files.from_s or 0.0}
        if not files.whole:
            window["capture_for_s"] = passage if files.for_s is None else files.for_s
        rows.append(row | {"capture_file": name} | window)
        copies.append((item.path, name))
    return rows, copies


def _capture_part(files: CaptureFiles) -> str:
    key = "timestamp_column" if files.timestamps else "frame_time_column"
    return f'\n[captures]\n{key} = "{_FRAME_COLUMN}"\nunit = "{files.unit}"\n'


def _copied(files: CaptureFiles, source: Path, target: Path) -> None:
    try:
        _copy_column(files, source, target)
    except (*UNREADABLE, csv.Error) as error:
        if isinstance(error, OSError) and error.errno is not None:
            raise  # The disk refuses, or the file is gone; what is packed wrongly has no number.
        raise StudyError(
            f"can't be read: {error}", file=source.name,
            next_step="save or pack the file again, or name its text encoding",
        ) from error  # fmt: skip


def _copy_column(files: CaptureFiles, source: Path, target: Path) -> None:
    with (
        open_text(source, files.encoding) as read,
        target.open("w", encoding="utf-8", newline="") as written,
    ):
        reader = csv.reader(read, delimiter=files.delimiter)
        header = [cell.strip() for cell in next(reader, [])]
        if files.column not in header:
            raise StudyError(
                f"has no column {files.column!r}",
                file=source.name,
                row=1,
                column=files.column,
                next_step=near_names(files.column, header) or None,
            )
        place = header.index(files.column)
        writer = csv.writer(written, lineterminator="\n")
        writer.writerow([_FRAME_COLUMN])
        for row in reader:
            writer.writerow([row[place] if place < len(row) else ""])
