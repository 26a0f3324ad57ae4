"""A set's captures: which file belongs to which run, under which hash, and what they say of the run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.captures.problems import CaptureError
from rigledger.captures.read import read_capture
from rigledger.captures.source import CaptureSource, capture_source
from rigledger.captures.store import CaptureStore, StoredCapture, describe
from rigledger.errors import near_names
from rigledger.intake.names import name_problem
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet

_FRAMES = "intake_frames"
_FIRST_PROBLEMS = 20
_TABLE = (
    "CREATE TABLE handed.captures (capture_file VARCHAR, capture VARCHAR, frames BIGINT,"
    " total_ns BIGINT, state VARCHAR)"
)


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
    for file, _ in capture_files(con):
        if not is_in(folder, file) or read_capture(con, folder / file, source, _FRAMES).problems:
            continue
        stored = describe(con, _FRAMES)
        here = store is not None and stored.capture in store
        insert_capture(con, file, stored, "here" if here else "elsewhere")
    con.execute(f"DROP TABLE IF EXISTS {_FRAMES}")


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


class CaptureReader:
    """Reads the captures of a set at check, into a store of our scratch, with findings."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        held: TextSet,
        folder: Path,
        files: Sequence[str],
        log: FindingLog,
        scratch: Path,
    ) -> None:
        self.con = con
        self.held = held
        self.folder = folder
        self.files = files
        self.log = log
        self.store = CaptureStore(scratch / "captures")
        self.place = held.tables["runs"].file

    def read(self) -> bool:
        """Read every capture that a run names into ``handed.captures`` and the store.

        Returns:
            Whether any was read.
        """
        self.con.execute(_TABLE)
        named = capture_files(self.con)
        if not named:
            return False
        if not self.held.manifest.captures:
            reason = "runs name captures, and result-set.toml has no [captures] part"
            self.log.add("captures_declaration", reason, file=self.held.manifest.file)
            return False
        source = declared_source(self.held, self.log)
        if source is None:
            return False
        return any([self._read_one(file, row, source) for file, row in named])

    def _read_one(self, file: str, row: int, source: CaptureSource) -> bool:
        problem = name_problem(file)
        if problem:
            self._add("capture_outside_set", problem[1], row, file, None)
            return False
        if not is_in(self.folder, file):
            near = near_names(file, self.files)
            self._add("capture_missing", f"the set has no file {excerpt(file)!r}", row, file, near)
            return False
        found = read_capture(self.con, self.folder / file, source, _FRAMES)
        for problem_at in found.problems:
            self.log.add(
                problem_at.rule,
                problem_at.reason,
                file=file,
                row=problem_at.row,
                column=problem_at.column,
                value=excerpt(problem_at.value),
                next_step=problem_at.next_step or None,
            )
        if found.problems:
            return False
        insert_capture(self.con, file, self.store.put(self.con, _FRAMES), "elsewhere")
        return True

    def _add(self, rule: str, reason: str, row: int, value: str, step: str | None) -> None:
        column = "capture_file"
        shown = excerpt(value)
        self.log.add(
            rule, reason, file=self.place, row=row, column=column, value=shown, next_step=step
        )
