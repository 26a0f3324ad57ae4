"""Frame times of one handed-in file, as whole nanoseconds in a DuckDB table.

Only the declared column is read: logs carry user names, paths and serial numbers in the others.

A CSV file is first read by DuckDB. If anything in it is not a positive number, the same file is
read again row by row, which names each place, or finds that all is well after all (a blank last
line, a decimal comma that was declared).
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.fast_read import frames_sql, layout_of, may_be_plain, text_cells_sql
from rigledger.captures.problems import CaptureProblem
from rigledger.captures.slow_read import SlowRead, names_of, open_text, read_rows
from rigledger.contract.load import load_contract
from rigledger.contract.sql_text import identifier, literal
from rigledger.errors import near_names

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

_ROWS_AT_ONCE = 200_000
_HEADER_LIMIT = 1 << 20


@dataclass(frozen=True, slots=True)
class CaptureRead:
    """What came of reading one file.

    Attributes:
        frames: Number of frames in the table; 0 where there are problems.
        total_ns: Sum of the frame times; 0 where there are problems.
        problems: Everything that is wrong, by row; with any the table is empty.
    """

    frames: int
    total_ns: int
    problems: tuple[CaptureProblem, ...]


def read_capture(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> CaptureRead:
    """Read one capture into a temporary table: a BIGINT column ``frame_ns``, ordered by ``rowid``.

    Args:
        con: Connection that gets the table; a table of that name is replaced.
        path: A CSV file (also ``.csv.gz``) with a header on its first row, or a Parquet file.
        source: The declaration of its column, unit and layout.
        table: Name of the table.

    Returns:
        Frames and total time, or every problem. Nothing that is in the file raises.

    Raises:
        FileNotFoundError: There is no such file.
    """
    if not path.is_file():
        raise FileNotFoundError(path)
    con.execute(f"create or replace temp table {identifier(table)} (frame_ns bigint)")
    problems = _fill(con, path, source, table)
    frames, total = _sums(con, table)
    if not problems:
        problems = bounds_problems(frames, total)
    if not problems and frames == 0:
        problems = (_empty("there is not a single frame in the file"),)
    if problems:
        con.execute(f"truncate {identifier(table)}")
        return CaptureRead(0, 0, problems)
    return CaptureRead(frames, total, ())


def _fill(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> tuple[CaptureProblem, ...]:
    try:
        if path.suffix.lower() == ".parquet":
            return _fill_from_parquet(con, path, source, table)
        return _fill_from_csv(con, path, source, table)
    except (OSError, EOFError, UnicodeDecodeError, csv.Error, duckdb.Error) as error:
        reason = f"the file can't be read: {str(error).splitlines()[0][:200]}"
        return (CaptureProblem("capture_unreadable", None, None, None, reason),)


def _fill_from_csv(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> tuple[CaptureProblem, ...]:
    header = header_of(path, source)
    if not header:
        return (_empty("the file is empty"),)
    problem = column_problem(header, source)
    if problem is not None:
        return (problem,)
    if _fill_fast(con, path, source, table):
        return ()
    read = read_rows(path, source, header.index(source.column), len(header))
    return _fill_slowly(con, read, table)


def header_of(path: Path, source: CaptureSource) -> list[str]:
    """Give the names of a CSV file's columns; none where the file is empty."""
    with open_text(path, source.encoding) as stream:
        line = stream.readline(_HEADER_LIMIT)
    return names_of(line, source)


def column_problem(header: Sequence[str], source: CaptureSource) -> CaptureProblem | None:
    """Say what is wrong with the header, None where the declared column stands in it once."""
    times = header.count(source.column)
    if times == 1:
        return None
    if times == 0:
        reason = f"there is no column {source.column!r}"
        hint = near_names(source.column, header)
    else:
        reason = f"there are {times} columns {source.column!r}"
        hint = "give each column a name of its own"
    return CaptureProblem("capture_column_missing", 1, source.column, None, reason, hint)


def _fill_fast(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> bool:
    """Let DuckDB read the file; False where it isn't plain enough, the table then being empty."""
    if not may_be_plain(source):
        return False
    select = frames_sql([path], source, layout_of(path, source))
    return _fill_plain(con, f"select frame_ns from ({select})", table)


def _fill_plain(con: duckdb.DuckDBPyConnection, select: str, table: str) -> bool:
    """Fill the table; False, leaving it empty, where a cell isn't a plain positive number."""
    try:
        con.execute(f"insert into {identifier(table)} {select}")
    except duckdb.Error:
        return False
    if _all_positive(con, table):
        return True
    con.execute(f"truncate {identifier(table)}")
    return False


def _all_positive(con: duckdb.DuckDBPyConnection, table: str) -> bool:
    answer = con.execute(
        f"select count(*) > 0 and bool_and(frame_ns > 0 is true) from {identifier(table)}"
    ).fetchone()
    return bool(answer and answer[0])


def _fill_slowly(
    con: duckdb.DuckDBPyConnection, read: SlowRead, table: str
) -> tuple[CaptureProblem, ...]:
    if not read.problems:
        for start in range(0, len(read.frames), _ROWS_AT_ONCE):
            con.execute(
                f"insert into {identifier(table)} select unnest(?::bigint[])",
                [read.frames[start : start + _ROWS_AT_ONCE]],
            )
    return tuple(read.problems)


def _fill_from_parquet(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> tuple[CaptureProblem, ...]:
    file = literal(path.as_posix())
    names = [row[0] for row in con.execute(f"describe from read_parquet({file})").fetchall()]
    problem = column_problem(names, source)
    if problem is not None:
        return (problem,)
    # The shortest text that gives the number back: what a person would have written.
    text = (
        f"(select cast({identifier(source.column)} as varchar) as cell, 0 as file_index "
        f"from read_parquet({file}))"
    )
    select = text_cells_sql(text, source)
    if _fill_plain(con, f"select frame_ns from ({select})", table):
        return ()
    read = SlowRead(replace(source, decimal="."))
    for row, cell in enumerate(_cells(con, text), start=1):
        read.take(row, (cell or "").strip())
    return _fill_slowly(con, read, table)


def _cells(con: duckdb.DuckDBPyConnection, relation: str) -> Iterator[str | None]:
    cursor = con.cursor().execute(f"select cell from {relation}")
    while rows := cursor.fetchmany(_ROWS_AT_ONCE):
        yield from (cell for (cell,) in rows)


def _sums(con: duckdb.DuckDBPyConnection, table: str) -> tuple[int, int]:
    row = con.execute(
        f"select count(*), coalesce(sum(frame_ns), 0) from {identifier(table)}"
    ).fetchone()
    return (int(row[0]), int(row[1])) if row else (0, 0)


def _empty(reason: str) -> CaptureProblem:
    return CaptureProblem("capture_empty", None, None, None, reason)


def bounds_problems(frames: int, total_ns: int) -> tuple[CaptureProblem, ...]:
    """Hold the sums against the bounds of the contract's table of captures."""
    most_frames, most_ns = _bounds()
    return tuple(
        CaptureProblem("capture_out_of_bounds", None, None, str(value), reason)
        for most, value, reason in (
            (most_frames, frames, f"{frames} frames are more than a capture may hold"),
            (most_ns, total_ns, f"{total_ns} ns in all are more than a capture may last"),
        )
        if value > most
    )


@lru_cache(maxsize=1)
def _bounds() -> tuple[int, int]:
    table = load_contract().table("source", "captures")
    return int(table.field("frames").maximum or 0), int(table.field("total_ns").maximum or 0)
