"""Many handed-in captures at once: one scan for all files of one layout.

What a single file gives here is what `read_capture` gives; only the number of statements differs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.read import (
    CaptureRead,
    bounds_problems,
    column_problem,
    frame_time_sql,
    header_of,
    may_be_plain,
    read_capture,
    scan_sql,
)
from rigledger.captures.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

_BYTES_A_SCAN = 64 << 20
_ONE = "rigledger_one_capture"


def read_captures(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path], source: CaptureSource, table: str
) -> dict[str, CaptureRead]:
    """Read captures into one temporary table.

    Args:
        con: Connection that gets the table; a table of that name is replaced.
        paths: CSV or Parquet files, each named once.
        source: The declaration of their column, unit and layout.
        table: Name of the table: ``capture_file`` (the path, with ``/``) and BIGINT ``frame_ns``;
            the rows of one file stand in frame order (``rowid``). Files with problems have none.

    Returns:
        Path (with ``/``) to frames and total time, or to every problem.

    Raises:
        FileNotFoundError: One of the files is missing.
    """
    con.execute(
        f"create or replace temp table {identifier(table)} (capture_file varchar, frame_ns bigint)"
    )
    for header, group in _by_header(paths, source).items():
        for some in _scans(group):
            _fill(con, some, source, header, table)
    reads = _good(con, table)
    for path in paths:
        if path.as_posix() not in reads:
            reads[path.as_posix()] = _read_alone(con, path, source, table)
    con.execute(f"drop table if exists {_ONE}")
    return {path.as_posix(): reads[path.as_posix()] for path in paths}


def _by_header(paths: Sequence[Path], source: CaptureSource) -> dict[tuple[str, ...], list[Path]]:
    """Group the files that DuckDB may read by their columns; the others are left out."""
    groups: dict[tuple[str, ...], list[Path]] = {}
    for path in paths if may_be_plain(source) else ():
        if path.suffix.lower() == ".parquet" or not path.is_file():
            continue
        try:
            header = header_of(path, source)
        except (OSError, EOFError, UnicodeDecodeError):
            continue
        if header and column_problem(header, source) is None:
            groups.setdefault(tuple(header), []).append(path)
    return groups


def _scans(paths: Sequence[Path]) -> Iterator[list[Path]]:
    some: list[Path] = []
    held = 0
    for path in paths:
        size = path.stat().st_size
        if some and held + size > _BYTES_A_SCAN:
            yield some
            some, held = [], 0
        some.append(path)
        held += size
    if some:
        yield some


def _fill(
    con: duckdb.DuckDBPyConnection,
    paths: list[Path],
    source: CaptureSource,
    header: Sequence[str],
    table: str,
) -> None:
    """Scan some files; where one of them can't be scanned, find it by halving and leave it out."""
    select = frame_time_sql(*scan_sql(paths, source, header), source)
    try:
        con.execute(f"insert into {identifier(table)} {select}")
    except duckdb.Error:
        half = len(paths) // 2
        for part in (paths[:half], paths[half:]) if half else ():
            _fill(con, part, source, header, table)


def _good(con: duckdb.DuckDBPyConnection, table: str) -> dict[str, CaptureRead]:
    """Keep the captures that are nothing but positive frames within bounds; take out the others."""
    name = identifier(table)
    rows = con.execute(
        f"select capture_file, count(*), sum(frame_ns), "
        f"count(*) = count(*) filter (where frame_ns > 0) from {name} group by all"
    ).fetchall()
    good = {
        file: CaptureRead(frames, int(total), ())
        for file, frames, total, plain in rows
        if plain and not bounds_problems(frames, int(total))
    }
    bad = [row[0] for row in rows if row[0] not in good]
    if bad:
        con.execute(f"delete from {name} where capture_file in (select unnest(?))", [bad])
    return good


def _read_alone(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource, table: str
) -> CaptureRead:
    read = read_capture(con, path, source, _ONE)
    if not read.problems:
        con.execute(
            f"insert into {identifier(table)} select ?, frame_ns from {_ONE} order by rowid",
            [path.as_posix()],
        )
    return read
