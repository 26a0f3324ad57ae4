"""A set's captures: which file belongs to which run, under which hash, and what is in it."""

from __future__ import annotations

from dataclasses import asdict
from functools import partial
from typing import TYPE_CHECKING, Any

from rigledger.captures.batch import read_captures
from rigledger.captures.problems import CaptureError
from rigledger.captures.source import CaptureSource, capture_source
from rigledger.captures.store import CaptureStore, StoredCapture, describe_all
from rigledger.errors import near_names
from rigledger.files import sha256_of
from rigledger.intake.names import name_problem
from rigledger.intake.text import excerpt
from rigledger.remembered import Remembered, key_of, versions_of

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from rigledger.captures.problems import CaptureRead
    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet

FRAMES = "intake_frames"
_TABLE = (
    "CREATE TABLE handed.captures (capture_file VARCHAR, capture VARCHAR, frames BIGINT,"
    " total_ns BIGINT, state VARCHAR)"
)

_PATHS = "CREATE OR REPLACE TEMP TABLE capture_paths (capture_file VARCHAR, path VARCHAR)"


def without_captures(con: duckdb.DuckDBPyConnection) -> None:
    """Create ``handed.captures`` empty, unless it is there."""
    con.execute(_TABLE.replace("CREATE TABLE", "CREATE TABLE IF NOT EXISTS"))


def capture_files(con: duckdb.DuckDBPyConnection) -> list[tuple[str, int]]:
    """List the capture files that the runs name, each with the first row that names it."""
    return con.execute(
        "SELECT capture_file, min(_row) FROM handed.runs WHERE capture_file IS NOT NULL"
        " GROUP BY ALL ORDER BY ALL"
    ).fetchall()


def declared_source(held: TextSet, log: FindingLog) -> CaptureSource | None:
    """Give the set's declaration of its captures; None where there is none or it is wrong."""
    if not held.manifest.captures:
        return None
    try:
        return capture_source(held.manifest.captures, log.contract)
    except CaptureError as error:
        place = f"captures.{error.column}"
        row = held.manifest.lines.get(place) or held.manifest.lines.get("captures")
        log.add(
            "captures_declaration",
            error.message,
            file=held.manifest.file,
            row=row,
            column=place,
            value=error.value,
            next_step=error.next_step,
        )
        return None


def hash_captures(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    folder: Path,
    study_folder: Path | None,
    log: FindingLog,
    *,
    remembered: Remembered | None = None,
) -> None:
    """Create ``handed.captures`` for the files that can be read.

    Args:
        con: The database, with ``handed.runs``.
        held: The set.
        folder: The set's folder.
        study_folder: The study; captures in its store have the state ``here``, others
            ``elsewhere``.
        log: Takes a finding where the declaration is wrong.
        remembered: What was read from files with the same bytes and declaration.
    """
    con.execute(_TABLE)
    source = declared_source(held, log)
    if source is None:
        return
    store = None if study_folder is None else CaptureStore(study_folder / "captures")
    paths = {file: folder / file for file, _ in capture_files(con) if is_in(folder, file)}
    stored = _described(
        con, list(dict.fromkeys(paths.values())), source, remembered or Remembered()
    )
    rows = [
        (file, found.capture, found.frames, found.total_ns, _state(found.capture, store))
        for file, path in paths.items()
        if (found := stored[path]) is not None
    ]
    columns = [list(column) for column in zip(*rows, strict=True)]
    if rows:
        lists = ", ".join("unnest(?)" for _ in columns)
        con.execute(f"INSERT INTO handed.captures SELECT {lists}", columns)


def _state(capture: str, store: CaptureStore | None) -> str:
    return "here" if store is not None and capture in store else "elsewhere"


def _described(
    con: duckdb.DuckDBPyConnection,
    paths: list[Path],
    source: CaptureSource,
    remembered: Remembered,
) -> dict[Path, StoredCapture | None]:
    """Give each file's capture, None where it can't be read; a file is read once for its bytes."""
    declared = [asdict(source), versions_of("duckdb", "pyarrow")]
    keys = {
        path: key_of("capture", [part.lower() for part in path.suffixes], sha256_of(path), declared)
        for path in paths
    }
    unread = [path for path in paths if not remembered.knows(keys[path])]
    found: dict[str, StoredCapture] = {}
    if unread:
        read_captures(con, unread, source, FRAMES)
        found = describe_all(con, FRAMES)
        con.execute(f"DROP TABLE IF EXISTS {FRAMES}")

    def held(path: Path) -> list[Any] | None:
        one = found.get(path.as_posix())
        return None if one is None else [one.capture, one.frames, one.total_ns]

    told = {path: remembered.recall(key, partial(held, path)) for path, key in keys.items()}
    return {path: one and StoredCapture(*one) for path, one in told.items()}


def insert_capture(
    con: duckdb.DuckDBPyConnection, file: str, stored: StoredCapture, state: str
) -> None:
    """Add one row to ``handed.captures``."""
    row = [file, stored.capture, stored.frames, stored.total_ns, state]
    con.execute("INSERT INTO handed.captures VALUES (?, ?, ?, ?, ?)", row)


def is_in(folder: Path, file: str) -> bool:
    """Whether a path that a run names is an ordinary file inside the set."""
    path = folder / file
    inside = name_problem(file) is None and path.resolve().is_relative_to(folder.resolve())
    return inside and path.is_file() and not path.is_symlink()


def _has_backslashes_only(file: str) -> bool:
    """Whether a path would be fine with slashes in place of backslashes."""
    return "\\" in file and name_problem(file.replace("\\", "/")) is None


class CaptureReader:
    """Reads the captures of a set at check, with findings."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        held: TextSet,
        folder: Path,
        files: Sequence[str],
        log: FindingLog,
    ) -> None:
        self.con = con
        self.held = held
        self.folder = folder
        self.files = files
        self.log = log
        self.place = held.tables["runs"].file

    def read(self) -> bool:
        """Read every capture that a run names into the table `FRAMES`.

        ``handed.captures`` gets a row for each that could be read, ``capture_paths`` says under
        which path its frame times stand.

        Returns:
            Whether any was read.
        """
        self.con.execute(_TABLE)
        named = capture_files(self.con)
        if not named:
            declared_source(self.held, self.log)
            return False
        if not self.held.manifest.captures:
            reason = "runs name captures, and result-set.toml has no [captures] part"
            self.log.add("captures_declaration", reason, file=self.held.manifest.file)
            return False
        source = declared_source(self.held, self.log)
        if source is None:
            return False
        paths = {file: self.folder / file for file, row in named if self._usable(file, row)}
        read = read_captures(self.con, list(dict.fromkeys(paths.values())), source, FRAMES)
        stored = describe_all(self.con, FRAMES)
        self.con.execute(_PATHS)
        for file, path in paths.items():
            self.con.execute("INSERT INTO capture_paths VALUES (?, ?)", [file, path.as_posix()])
            self._report(file, read[path.as_posix()])
            if path.as_posix() in stored:
                insert_capture(self.con, file, stored[path.as_posix()], "elsewhere")
        return bool(stored)

    def _usable(self, file: str, row: int) -> bool:
        """Whether a path that a run names may be opened; a finding where it may not."""
        problem = name_problem(file)
        if problem:
            step = f"Write {file.replace(chr(92), '/')}." if _has_backslashes_only(file) else None
            self._add("capture_outside_set", problem[1], row, file, step)
            return False
        if not is_in(self.folder, file):
            near = near_names(file, self.files)
            self._add("capture_missing", f"the set has no file {excerpt(file)!r}", row, file, near)
            return False
        return True

    def _report(self, file: str, read: CaptureRead) -> None:
        for problem in (*read.problems, *read.remarks):
            self.log.add(
                problem.rule,
                problem.reason,
                file=file,
                row=problem.row,
                column=problem.column,
                value=excerpt(problem.value),
                next_step=problem.next_step or None,
            )

    def _add(self, rule: str, reason: str, row: int, value: str, step: str | None) -> None:
        column = "capture_file"
        shown = excerpt(value)
        self.log.add(
            rule, reason, file=self.place, row=row, column=column, value=shown, next_step=step
        )
