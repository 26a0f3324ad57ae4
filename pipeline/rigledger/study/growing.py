"""A set that grows while it is measured: the part measured so far, as its own next revision.

The tester works in one folder, a kit whose planned rows are filled in from day to day. What is
taken in is a copy that holds the rows measured so far; it has a name of its own and says which set
it replaces whole. The folder itself is never changed.
"""

from __future__ import annotations

import csv
import io
import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.errors import StudyError
from rigledger.files import (
    files_below,
    link_or_copy,
    parse_sha256sums,
    place_below,
    sha256_of,
    write_bytes,
    write_text,
)
from rigledger.signing import SIGNATURE, SUMS
from rigledger.study.decisions import Waiver, read_decisions

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator
    from pathlib import Path

    from rigledger.study.decisions import Decisions
    from rigledger.study.layout import StudyFolder

MANIFEST = "result-set.toml"
_REVISION = re.compile(r"(?P<name>.+)-r(?P<number>[0-9]+)")
# What the plan fills in, and what a tester copies down beforehand: neither shows a measurement.
_BEFOREHAND = frozenset({
    "rig", "session", "run", "workload", "resolution", "level", "role", "pass", "position",
    "title_build", "level_state", "level_check",
})  # fmt: skip
_NOT_TO_MEASURE = frozenset({"aborted", "not_possible"})
_Row = dict[str, str]


@dataclass(frozen=True, slots=True)
class Grown:
    """The part of a set that is measured so far.

    Attributes:
        folder: The copy.
        name: Short name of the set there.
        supersedes: Short name of the set that it replaces; None the first time.
        waiting: Planned runs that have yet to be measured and were left out; None for a set of
            captures without a table of runs, which doesn't say what is planned.
    """

    folder: Path
    name: str
    supersedes: str | None
    waiting: int | None

    @property
    def expected(self) -> tuple[Waiver, ...]:
        """What may be waived while runs wait: cells that later rounds will complete."""
        if self.waiting == 0:
            return ()
        wait = "" if self.waiting is None else f": {self.waiting} planned runs wait"
        return (Waiver("too_few_runs", f"still being measured{wait}"),)


def measured_part(folder: Path, study: StudyFolder, scratch: Path) -> Grown:
    """Copy what is measured of a set, as the next revision of its admitted self.

    A row of runs in which nothing but the plan stands is left out, so are sessions and rigs that
    have no run yet. Every other byte of the tables stays.

    Args:
        folder: The set's folder, outside the study; not changed.
        study: The study.
        scratch: An empty folder for the copy.

    Raises:
        StudyError: It is no folder with a result-set.toml that can be read, it is signed, its
            earlier revision was withdrawn, nothing is measured yet, or nothing was added.
    """
    said, text, files = _said(folder)
    _refuse_signed(folder)
    copy = scratch / folder.name
    _copy(folder, copy)
    waiting = _drop_unmeasured(copy, files)
    decisions = read_decisions(study.decisions)
    current = _latest(said, decisions)
    if current is None:
        return Grown(copy, said["set"], said.get("supersedes"), waiting)
    _refuse_unchanged(copy, study, f"{said['contributor']}.{current}")
    name = _free_name(said["contributor"], current, decisions)
    write_text(copy / MANIFEST, _renamed(text, said, {"set": name, "supersedes": current}))
    return Grown(copy, name, current, waiting)


def _said(folder: Path) -> tuple[dict[str, Any], str, dict[str, str]]:
    path = folder / MANIFEST
    try:
        text = path.read_text(encoding="utf-8-sig")
        held = tomllib.loads(text)
        said = held["set"]
        return (
            said | {name: said[name] for name in ("set", "contributor")},
            text,
            held.get("files", {}),
        )
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StudyError(
            "can't be read as a set's own file", file=str(path), next_step="check the set first"
        ) from error


def _refuse_signed(folder: Path) -> None:
    if (folder / SIGNATURE).is_file():
        raise StudyError(
            "the set is signed, so no copy of a part of it can be taken in",
            file=str(folder / SIGNATURE),
            next_step="take the signature out while the set grows, and sign the whole set",
        )


def _copy(folder: Path, copy: Path) -> None:
    """Copy a folder; where the system allows it, large files are linked, not read."""
    place_below({name: folder / name for name in files_below(folder)}, copy, link_or_copy)


def _latest(said: dict[str, Any], decisions: Decisions) -> str | None:
    """Give the short name of the set's revision that is in force; None before the first."""
    contributor = said["contributor"]
    current = f"{contributor}.{said['set']}"
    if decisions.decision(current) is None:
        return None
    while newer := decisions.superseded_by(current):
        current = newer
    if decisions.state(current) != "admitted":
        raise StudyError(
            f"{current} is no longer in force, it is {decisions.state(current)}",
            file=MANIFEST, column="set.set", value=said["set"],
            next_step="give the set a new name to hand it in again",
        )  # fmt: skip
    return current.removeprefix(f"{contributor}.")


def _free_name(contributor: str, name: str, decisions: Decisions) -> str:
    match = _REVISION.fullmatch(name)
    base, number = (match["name"], int(match["number"])) if match else (name, 1)
    number += 1
    while decisions.decision(f"{contributor}.{base}-r{number}"):
        number += 1
    return f"{base}-r{number}"


def _refuse_unchanged(copy: Path, study: StudyFolder, set_id: str) -> None:
    sums = study.set_folder(set_id) / SUMS
    before = parse_sha256sums(sums.read_text(encoding="utf-8")) if sums.is_file() else {}
    now = {name: sha256_of(copy / name) for name in files_below(copy)}
    before.pop(MANIFEST, None)
    now.pop(MANIFEST)
    if now == before:
        raise StudyError(
            f"nothing was added since {set_id} was admitted; the study is unchanged",
            value=set_id, next_step="measure on, and hand it in when there is more",
        )  # fmt: skip


def _renamed(text: str, said: dict[str, Any], pairs: dict[str, str]) -> str:
    """Set keys of the part [set]; no other line of the file is touched."""
    changed = _with_pairs(text, pairs)
    if tomllib.loads(changed)["set"] != said | pairs:
        lines = " and ".join(tomli_w.dumps({key: value}).strip() for key, value in pairs.items())
        raise StudyError(
            "the lines `set` and `supersedes` can't be rewritten safely",
            file=MANIFEST, next_step=f"write {lines} by hand",
        )  # fmt: skip
    return changed


def _with_pairs(text: str, pairs: dict[str, str]) -> str:
    """Set keys of the part [set]: where they stand, commented or not, else behind its head."""
    lines = text.splitlines(keepends=True)
    start = next(number for number, line in enumerate(lines) if line.strip() == "[set]") + 1
    end = next((n for n in range(start, len(lines)) if lines[n].startswith("[")), len(lines))
    part = lines[start:end]
    for key, value in pairs.items():
        part = list(_with_pair(part, key, tomli_w.dumps({key: value})))
    return "".join([*lines[:start], *part, *lines[end:]])


def _with_pair(part: list[str], key: str, line: str) -> Iterable[str]:
    stands = [n for n, held in enumerate(part) if re.match(rf"(# )?{key}\s*=", held)]
    if not stands:
        yield line
    for number, held in enumerate(part):
        yield line if stands and number == stands[0] else held


def _drop_unmeasured(copy: Path, files: dict[str, str]) -> int | None:
    """Drop rows that wait from the copy's tables; give how many runs wait."""
    runs = copy / "runs.csv"
    if not runs.is_file():
        return None
    kept, waiting = _keep(runs, files, _is_measured)
    if not waiting:
        return 0
    if not kept:
        raise StudyError(
            "nothing is measured yet: all rows of runs.csv wait", file="runs.csv",
            next_step="fill in what was measured; rows that wait may stay blank",
        )  # fmt: skip
    for name, columns in (("sessions.csv", ("rig", "session")), ("rigs.csv", ("rig",))):
        if (copy / name).is_file() and all(column in kept[0] for column in columns):
            have = {tuple(row[column] for column in columns) for row in kept}
            _keep(copy / name, files, _among(columns, have))
    return waiting


def _among(columns: tuple[str, ...], have: set[tuple[str, ...]]) -> Callable[[_Row], bool]:
    return lambda row: tuple(row.get(column, "") for column in columns) in have


def _is_measured(row: _Row) -> bool:
    """Whether a row of runs says more than what was known beforehand."""
    if row.get("role", "").strip() in _NOT_TO_MEASURE:
        return True
    return any(value.strip() for key, value in row.items() if key not in _BEFOREHAND)


def _keep(
    path: Path, files: dict[str, str], wanted: Callable[[_Row], bool]
) -> tuple[list[_Row], int]:
    """Keep the wanted records of a table, byte for byte; give them, and how many were dropped."""
    encoding = files.get("encoding", "utf-8")
    try:
        text = path.read_bytes().decode(encoding)
        parts = list(_records(text, files.get("delimiter", ",")))
    except (UnicodeDecodeError, LookupError, csv.Error) as error:
        raise StudyError(
            "can't be read as a table", file=path.name, next_step="check the set first"
        ) from error
    head, records = parts[:1], parts[1:]
    keep = [(raw, row) for raw, row in records if wanted(row)]
    if len(keep) < len(records):
        text = "".join(raw for raw, _ in [*head, *keep])
        write_bytes(path, text.encode(encoding))
    return [row for _, row in keep], len(records) - len(keep)


def _records(text: str, delimiter: str) -> Iterator[tuple[str, _Row]]:
    """Give each record's own text and its cells by heading, the header first."""
    lines = list(io.StringIO(text, newline=""))
    reader = csv.reader(lines, delimiter=delimiter)
    head: list[str] | None = None
    start = 0
    for cells in reader:
        raw = "".join(lines[start : reader.line_num])
        start = reader.line_num
        if head is None:
            head = [cell.strip().lstrip("\ufeff") for cell in cells]
        yield raw, dict(zip(head, cells, strict=False))
