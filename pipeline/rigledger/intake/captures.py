"""A set's captures: which file belongs to which run, under which hash, and what is in it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.captures.batch import read_captures
from rigledger.captures.problems import CaptureError
from rigledger.captures.source import CaptureSource, capture_source
from rigledger.captures.store import CaptureStore, StoredCapture, describe_all
from rigledger.errors import near_names
from rigledger.intake.names import name_problem
from rigledger.intake.text import excerpt

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
) -> None:
    """Create ``handed.captures`` for the files that can be read.

    Args:
        con: The database, with ``handed.runs``.
        held: The set.
        folder: The set's folder.
        study_folder: The study; captures in its store have the state ``here``, others
            ``elsewhere``.
        log: Takes a finding where the declaration is wrong.
    """
    con.execute(_TABLE)
    source = declared_source(held, log)
    if source is None:
        return
    store = None if study_folder is None else CaptureStore(study_folder / "captures")
    paths = {file: folder / file for file, _ in capture_files(con) if is_in(folder, file)}
    read_captures(con, list(dict.fromkeys(paths.values())), source, FRAMES)
    stored = describe_all(con, FRAMES)
    for file, path in paths.items():
        found = stored.get(path.as_posix())
        if found is not None:
            here = store is not None and found.capture in store
            insert_capture(con, file, found, "here" if here else "elsewhere")
    con.execute(f"DROP TABLE IF EXISTS {FRAMES}")


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
