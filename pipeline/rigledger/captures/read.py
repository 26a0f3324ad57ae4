"""Frame times of one handed-in file, as whole nanoseconds in a DuckDB table.

Only the declared column is read: logs carry user names, paths and serial numbers in the others.

A CSV file is first read by DuckDB. If anything in it is not a positive number, the same file is
read again row by row, which names each place, or finds that all is well after all (a blank last
line, a decimal comma that was declared).
"""

from __future__ import annotations

import csv
from dataclasses import replace
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.fast_read import frames_sql, layout_of, may_be_plain
from rigledger.captures.packed import UNREADABLE, open_text
from rigledger.captures.parquet_read import columns_of, parquet_sql, text_sql, type_problem
from rigledger.captures.plausibility import judged
from rigledger.captures.problems import CaptureProblem, CaptureRead
from rigledger.captures.slow_read import SlowRead, names_of, read_rows
from rigledger.contract.sql_text import identifier
from rigledger.errors import near_names

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

_ROWS_AT_ONCE = 200_000
_HEADER_LIMIT = 1 << 20


def read_capture(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> CaptureRead:
    """Read one capture into a temporary table: a BIGINT column ``frame_ns``, ordered by ``rowid``.

    Args:
        con: Connection that gets the table; a table of that name is replaced.
        path: A CSV file with a header on its first row, also packed (``.csv.gz``, ``.csv.zst``),
            or a Parquet file.
        source: The declaration of its column, unit and layout.
        table: Name of the table.

    Returns:
        Frames and total time, or every problem. Nothing that is in the file raises.

    Raises:
        FileNotFoundError: There is no such file.
    """
    if not path.is_file():
        raise FileNotFoundError(path)
    read = parse_capture(con, path, source, table)
    if read.problems:
        return read
    read = judged(con, table, source, place="0")[0]
    if read.problems:
        con.execute(f"truncate {identifier(table)}")
    return read


def parse_capture(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> CaptureRead:
    """Read one capture as `read_capture` does, without a look at its frames as a whole.

    A file that is gone is a problem like others.
    """
    con.execute(f"create or replace temp table {identifier(table)} (frame_ns bigint)")
    problems = _fill(con, path, source, table)
    frames, total = _sums(con, table)
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
    except FileNotFoundError:
        return (_gone(),)
    except EOFError:
        return (_unreadable("it is packed, and cut short"),)
    except (*UNREADABLE, csv.Error, duckdb.Error) as error:
        # The database names a file that is gone in words of its own.
        return (_unreadable(str(error)) if path.is_file() else _gone(),)


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
                [read.frames[start : start + _ROWS_AT_ONCE].tolist()],
            )
    return tuple(read.problems)


def _fill_from_parquet(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> tuple[CaptureProblem, ...]:
    columns = columns_of(con, path)
    problem = column_problem(list(columns), source)
    if problem is None:
        problem = type_problem(columns[source.column], source)
    if problem is not None:
        return (problem,)
    select = parquet_sql([path], source, columns[source.column])
    if _fill_plain(con, f"select frame_ns from ({select})", table):
        return ()
    read = SlowRead(replace(source, decimal="."))
    for row, cell in enumerate(_cells(con, text_sql(path, source)), start=1):
        read.take(row, (cell or "").strip())
    read.end()
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


def _gone() -> CaptureProblem:
    reason = "the file was there when the set was listed, and is gone"
    return CaptureProblem("capture_missing", None, None, None, reason)


def _unreadable(reason: str) -> CaptureProblem:
    said = (reason.splitlines() or ["no reason is known"])[0][:200]
    reason = f"the file can't be read: {said}"
    return CaptureProblem("capture_unreadable", None, None, None, reason)


def _empty(reason: str) -> CaptureProblem:
    return CaptureProblem("capture_empty", None, None, None, reason)
