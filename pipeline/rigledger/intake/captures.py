"""A set's captures: which file belongs to which run, under which hash, and what is in it."""

from __future__ import annotations

import stat
from dataclasses import asdict
from functools import cache, partial
from types import MappingProxyType
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
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from pathlib import Path

    import duckdb

    from rigledger.captures.problems import CaptureRead
    from rigledger.contract.model import Metric
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
    sums: Mapping[str, str] = MappingProxyType({}),
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
        sums: Path in the folder to SHA-256 of files that need not be hashed again.
    """
    con.execute(_TABLE)
    source = declared_source(held, log)
    if source is None:
        return
    store = None if study_folder is None else CaptureStore(study_folder / "captures")
    is_in = inside(folder)
    paths = {file: folder / file for file, _ in capture_files(con) if is_in(file)}
    hashes = {path: sums.get(file) or sha256_of(path) for file, path in paths.items()}
    stored = _described(con, hashes, source, remembered or Remembered())
    rows = [(file, found) for file, path in paths.items() if (found := stored[path]) is not None]
    insert_captures(con, rows, store)


def _state(capture: str, store: CaptureStore | None) -> str:
    return "here" if store is not None and capture in store else "elsewhere"


def _described(
    con: duckdb.DuckDBPyConnection,
    hashes: Mapping[Path, str],
    source: CaptureSource,
    remembered: Remembered,
) -> dict[Path, StoredCapture | None]:
    """Give each file's capture, None where it can't be read; a file is read once for its bytes."""
    key = keys_of_captures(source)
    keys = {path: key(path, digest) for path, digest in hashes.items()}
    unread = [path for path, held in keys.items() if not remembered.knows(held)]
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


def keys_of_captures(source: CaptureSource) -> Callable[[Path, str], str]:
    """Give what gives the key under which it is remembered what a file of a hash holds."""
    declared = [asdict(source), versions_of("duckdb", "pyarrow")]

    def key(path: Path, sha256: str) -> str:
        return key_of("capture", [part.lower() for part in path.suffixes], sha256, declared)

    return key


def keys_of_metrics(
    metrics: Iterable[Metric],
) -> Callable[[str, float | None, float | None], str]:
    """Give what gives the key under which the metrics of a window of a capture are remembered."""
    made_by = [[repr(metric) for metric in metrics], versions_of("duckdb")]

    def key(capture: str, from_s: float | None, for_s: float | None) -> str:
        return key_of("metrics", capture, from_s, for_s, made_by)

    return key


def insert_captures(
    con: duckdb.DuckDBPyConnection,
    rows: Iterable[tuple[str, StoredCapture]],
    store: CaptureStore | None = None,
) -> None:
    """Add a row to ``handed.captures`` for each file and what is in it.

    Captures that the store holds have the state ``here``, others ``elsewhere``.
    """
    told = [
        (file, one.capture, one.frames, one.total_ns, _state(one.capture, store))
        for file, one in rows
    ]
    _insert(con, "handed.captures", told)


def _insert(con: duckdb.DuckDBPyConnection, table: str, rows: Sequence[tuple[Any, ...]]) -> None:
    """Add rows by one statement: a statement a row takes a hundred times as long."""
    if rows:
        columns = [list(column) for column in zip(*rows, strict=True)]
        lists = ", ".join("unnest(?)" for _ in columns)
        con.execute(f"INSERT INTO {table} SELECT {lists}", columns)


def inside(folder: Path) -> Callable[[str], bool]:
    """Give what says whether a path that a run names is an ordinary file inside the set."""
    root = folder.resolve()

    @cache
    def stays(parent: Path) -> bool:
        return parent.resolve().is_relative_to(root)

    def is_in(file: str) -> bool:
        path = folder / file
        return name_problem(file) is None and stays(path.parent) and _is_ordinary(path)

    return is_in


def _is_ordinary(path: Path) -> bool:
    try:
        return stat.S_ISREG(path.lstat().st_mode)
    except OSError:
        return False


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
        self.source: CaptureSource | None = None
        self.stored: dict[str, tuple[Path, StoredCapture]] = {}
        self._is_in = inside(folder)

    def read(self) -> bool:
        """Read every capture that a run names into the table `FRAMES`.

        ``handed.captures`` gets a row for each that could be read, ``capture_paths`` says under
        which path its frame times stand; `stored` has the same by the files' paths in the set.

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
        self.source = declared_source(self.held, self.log)
        if self.source is None:
            return False
        paths = {file: self.folder / file for file, row in named if self._usable(file, row)}
        files = list(dict.fromkeys(paths.values()))
        read = read_captures(self.con, files, self.source, FRAMES, shared=True)
        self._take(paths, describe_all(self.con, FRAMES))
        for file, path in paths.items():
            self._report(file, read[path.as_posix()])
        return bool(self.stored)

    def _take(self, paths: Mapping[str, Path], stored: Mapping[str, StoredCapture]) -> None:
        names = {file: path.as_posix() for file, path in paths.items()}
        self.con.execute(_PATHS)
        _insert(self.con, "capture_paths", list(names.items()))
        read = [file for file, name in names.items() if name in stored]
        self.stored = {file: (paths[file], stored[names[file]]) for file in read}
        insert_captures(self.con, [(file, one) for file, (_, one) in self.stored.items()])

    def _usable(self, file: str, row: int) -> bool:
        """Whether a path that a run names may be opened; a finding where it may not."""
        problem = name_problem(file)
        if problem:
            step = f"Write {file.replace(chr(92), '/')}." if _has_backslashes_only(file) else None
            self._add("capture_outside_set", problem[1], row, file, step)
            return False
        if not self._is_in(file):
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
