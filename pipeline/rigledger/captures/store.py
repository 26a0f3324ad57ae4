"""Captures kept whole under the hash of what they say: one Parquet file each, never changed."""

from __future__ import annotations

import re
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.batch import files_table
from rigledger.captures.hashes import NO_FRAMES, frame_hashes
from rigledger.captures.problems import CaptureError
from rigledger.contract.sql_text import identifier, literal
from rigledger.database import connect, plans
from rigledger.files import beside, keep_all

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

_ROWS_AT_ONCE = 100_000
_VERIFIED_AT_ONCE = 500
_NAME = re.compile(r"[0-9a-f]{64}\.parquet")


@dataclass(frozen=True, slots=True, order=True)
class StoredCapture:
    """A capture as the source table ``captures`` knows it."""

    capture: str
    frames: int
    total_ns: int


def frames_hash(con: duckdb.DuckDBPyConnection, table: str) -> str:
    """Hash frame times: SHA-256 over little-endian signed 64-bit integers of nanoseconds.

    Args:
        con: Connection that holds the table.
        table: Name of a table with a BIGINT column ``frame_ns``, in frame order (``rowid``).

    Returns:
        64 hexadecimal digits, the same for the same frame times however they were handed in.
    """
    rows = f"select 0 as file, frame_ns from {identifier(table)}"
    return frame_hashes(con, rows).get(0, NO_FRAMES)


def describe_all(con: duckdb.DuckDBPyConnection, table: str) -> dict[str, StoredCapture]:
    """Give hash, number of frames and total time of each capture of a table, keeping nothing.

    Args:
        con: Connection that holds the table.
        table: Name of a table as `read_captures` fills it.

    Returns:
        ``capture_file`` to its capture.
    """
    name = identifier(table)
    hashes = frame_hashes(con, f"select place as file, frame_ns from {name}")
    sums = con.execute(
        f"select capture_file, place, frames, total from {identifier(files_table(table))} "
        "inner join (select place, count(*) as frames, sum(frame_ns) as total "
        f"from {name} group by place) using (place) order by all"
    ).fetchall()
    return {
        file: StoredCapture(hashes[place], frames, int(total))
        for file, place, frames, total in sums
    }


def write_all(
    con: duckdb.DuckDBPyConnection,
    table: str,
    stored: Mapping[str, StoredCapture],
    folder: Path,
) -> None:
    """Write captures of a table into a folder of ours, each into a file named by its hash.

    Args:
        con: Connection that holds the table.
        table: Name of a table as `read_captures` fills it.
        stored: ``capture_file`` to its capture, as of `describe_all`; others are left out.
        folder: The folder.
    """
    name = identifier(table)
    named = con.execute(f"select place, capture_file from {identifier(files_table(table))}")
    captures = {place: stored[file].capture for place, file in named.fetchall() if file in stored}
    with _planning(con, name) as planned:
        # The rows of one file follow each other, so a range of rowid finds them without a scan,
        # and the database gives rows in the order of a table unless it is told otherwise.
        places = planned.execute(
            f"select place, min(rowid), max(rowid) from {name} group by place order by place"
        ).fetchall()
        wanted = {captures[place]: rows for place, *rows in places if place in captures}
        for capture, (first, last) in wanted.items():
            rows = f"select frame_ns from {name} where rowid between {first} and {last}"
            _write(planned, rows, folder / f"{capture}.parquet")


@contextmanager
def _planning(con: duckdb.DuckDBPyConnection, name: str) -> Iterator[duckdb.DuckDBPyConnection]:
    """Give a connection that plans its statements, and holds a table as the given one does.

    The same frames shall always make the same file, and a file says what the planner knows of a
    column. A connection that takes statements as they are written has little in its tables.
    """
    if plans(con):
        yield con
        return
    with connect() as other:
        other.execute(f"create temp table {name} (place bigint, frame_ns bigint)")
        cursor = con.execute(f"select place, frame_ns from {name} order by rowid")
        while rows := cursor.fetchmany(_ROWS_AT_ONCE):
            columns = [list(column) for column in zip(*rows, strict=True)]
            other.execute(
                f"insert into {name} select unnest(?::bigint[]), unnest(?::bigint[])", columns
            )
        yield other


def _write(con: duckdb.DuckDBPyConnection, frames: str, path: Path) -> None:
    con.execute(f"copy ({frames}) to {literal(path.as_posix())} (format parquet, compression zstd)")


Verified = StoredCapture | CaptureError | duckdb.Error
"""What came of holding a stored capture against its name."""


class CaptureStore:
    """A folder of captures, each named by its hash."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def path(self, capture: str) -> Path:
        """Give the file of a capture, whether or not it is there."""
        return self.folder / f"{capture}.parquet"

    def __contains__(self, capture: str) -> bool:
        return self.path(capture).is_file()

    def put(self, con: duckdb.DuckDBPyConnection, table: str) -> StoredCapture:
        """Keep the frame times of a table; a capture that is already there is left as it is.

        Args:
            con: Connection that holds the table.
            table: Name of a table as `read_capture` fills it.

        Raises:
            CaptureError: The table holds no frames.
        """
        stored = describe(con, table)
        if stored.frames == 0:
            raise CaptureError("a capture without frames can't be kept", value=table)
        if stored.capture not in self:
            with beside(self.path(stored.capture)) as temporary:
                _write(con, f"select frame_ns from {identifier(table)} order by rowid", temporary)
        return stored

    def put_all(self, con: duckdb.DuckDBPyConnection, table: str) -> dict[str, StoredCapture]:
        """Keep each capture of a table; those that are already there are left as they are.

        Args:
            con: Connection that holds the table.
            table: Name of a table as `read_captures` fills it.

        Returns:
            ``capture_file`` to its capture.
        """
        stored = describe_all(con, table)
        missing = {file: one for file, one in stored.items() if one.capture not in self}
        with TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as scratch:
            write_all(con, table, missing, Path(scratch))
            self.take(Path(scratch))
        return stored

    def take(self, made: Path) -> None:
        """Keep the captures that `write_all` wrote into a folder, but for those that are here."""
        missing = {
            path.name: path
            for path in made.iterdir()
            if _NAME.fullmatch(path.name) and not path.is_symlink() and path.stem not in self
        }
        keep_all(missing, self.folder)

    def verify_all(
        self, con: duckdb.DuckDBPyConnection, captures: Sequence[str]
    ) -> dict[str, Verified]:
        """Read stored captures again and hold each against its name, as `verify` does.

        Args:
            con: Any connection.
            captures: Their names.

        Returns:
            Each with what was read, or with what is wrong with it.
        """
        found: dict[str, Verified] = {}
        for start in range(0, len(captures), _VERIFIED_AT_ONCE):
            some = captures[start : start + _VERIFIED_AT_ONCE]
            # Where anything is wrong, each is looked at by itself.
            found |= self._sound(con, some) or {one: self._verified(con, one) for one in some}
        return found

    def _sound(
        self, con: duckdb.DuckDBPyConnection, captures: Sequence[str]
    ) -> dict[str, Verified]:
        """Read captures in one go; nothing where any of them is not as it should be."""
        listed = ", ".join(literal(self.path(one).as_posix()) for one in captures)
        rows = f"read_parquet([{listed}])"
        try:
            hashes = frame_hashes(con, f"select file_index as file, frame_ns from {rows}")
            sums = con.execute(
                f"select file_index, count(*), sum(frame_ns) from {rows} group by all"
            ).fetchall()
        except (duckdb.Error, OSError):
            return {}
        if hashes != dict(enumerate(captures)):
            return {}
        return {
            captures[place]: StoredCapture(captures[place], frames, int(total))
            for place, frames, total in sums
        }

    def _verified(self, con: duckdb.DuckDBPyConnection, capture: str) -> Verified:
        try:
            return self.verify(con, capture)
        except (CaptureError, duckdb.Error) as error:
            return error

    def verify(self, con: duckdb.DuckDBPyConnection, capture: str) -> StoredCapture:
        """Read a stored capture again and hold it against its name.

        Raises:
            CaptureError: It is missing, or its frame times have another hash.
        """
        path = self.path(capture)
        if not path.is_file():
            raise CaptureError(
                "the capture is not in the store",
                file=path.name,
                next_step="put the file back, or state the capture as kept elsewhere",
            )
        file = literal(path.as_posix())
        rows = f"select 0 as file, frame_ns from read_parquet({file})"
        found = frame_hashes(con, rows).get(0, NO_FRAMES)
        if found != capture:
            raise CaptureError(
                "the frame times have another hash than the file's name",
                file=path.name,
                value=found,
                next_step="restore the file from the set as handed in",
            )
        return _stored(con, capture, f"read_parquet({file})")


def describe(con: duckdb.DuckDBPyConnection, table: str) -> StoredCapture:
    """Give hash, number of frames and total time of a table of frame times, keeping nothing."""
    return _stored(con, frames_hash(con, table), identifier(table))


def _stored(con: duckdb.DuckDBPyConnection, capture: str, relation: str) -> StoredCapture:
    row = con.execute(f"select count(*), coalesce(sum(frame_ns), 0) from {relation}").fetchone()
    frames, total = row or (0, 0)
    return StoredCapture(capture, int(frames), int(total))
