"""Many handed-in captures at once: one scan for all files of one layout.

What a single file gives here is what `read_capture` gives; only the number of statements differs.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.fast_read import Layout, frames_sql, layout_of, may_be_plain
from rigledger.captures.read import (
    CaptureRead,
    bounds_problems,
    column_problem,
    read_capture,
)
from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

_BYTES_A_SCAN = 64 << 20
_ONE = "rigledger_one_capture"


@dataclass(frozen=True)
class _Scan:
    """Files of one layout that are read by one statement; their places follow each other."""

    paths: Sequence[Path]
    first: int
    layout: Layout

    def halves(self) -> tuple[_Scan, ...]:
        """Give two scans of half the files each, none where there is a single file."""
        half = len(self.paths) // 2
        if half == 0:
            return ()
        return (
            replace(self, paths=self.paths[:half]),
            replace(self, paths=self.paths[half:], first=self.first + half),
        )


def read_captures(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path], source: CaptureSource, table: str
) -> dict[str, CaptureRead]:
    """Read captures into one temporary table.

    Args:
        con: Connection that gets the tables; tables of these names are replaced.
        paths: CSV or Parquet files, each named once.
        source: The declaration of their column, unit and layout.
        table: Name of the table: ``place`` and BIGINT ``frame_ns``; the rows of one file follow
            each other in frame order (``rowid``). Files with problems have none. Beside it stands
            ``<table>_files``: ``place`` and ``capture_file`` (the path, with ``/``).

    Returns:
        Path (with ``/``) to frames and total time, or to every problem.

    Raises:
        FileNotFoundError: One of the files is missing.
    """
    layouts = _by_layout(paths, source)
    scanned = [path for group in layouts.values() for path in group]
    places = {path: place for place, path in enumerate(dict.fromkeys([*scanned, *paths]))}
    _make_tables(con, list(places), table)
    for layout, group in layouts.items():
        for scan in _scans(group, places[group[0]], layout):
            _fill(con, scan, source, table)
    good = _good(con, table)
    reads = {
        path: good.get(place) or _read_alone(con, path, place, source, table)
        for path, place in places.items()
    }
    con.execute(f"drop table if exists {_ONE}")
    return {path.as_posix(): reads[path] for path in paths}


def files_table(table: str) -> str:
    """Name the table that says which file stands at which place."""
    return f"{table}_files"


def _make_tables(con: duckdb.DuckDBPyConnection, paths: Sequence[Path], table: str) -> None:
    con.execute(f"create or replace temp table {identifier(table)} (place bigint, frame_ns bigint)")
    con.execute(
        f"create or replace temp table {identifier(files_table(table))} as "
        "select unnest(range(len($1))) as place, unnest($1::varchar[]) as capture_file",
        [[path.as_posix() for path in paths]],
    )


def _by_layout(paths: Sequence[Path], source: CaptureSource) -> dict[Layout, list[Path]]:
    """Group the files that DuckDB may read by their layout; the others are left out."""
    groups: dict[Layout, list[Path]] = {}
    for path in paths if may_be_plain(source) else ():
        if path.suffix.lower() == ".parquet":
            continue
        try:
            groups.setdefault(layout_of(path, source), []).append(path)
        except (OSError, EOFError, UnicodeDecodeError):
            continue
    return {
        layout: group
        for layout, group in groups.items()
        if column_problem(layout.header, source) is None
    }


def _scans(paths: Sequence[Path], first: int, layout: Layout) -> Iterator[_Scan]:
    some: list[Path] = []
    held = 0
    for place, path in enumerate(paths, start=first):
        size = path.stat().st_size
        if some and held + size > _BYTES_A_SCAN:
            yield _Scan(some, place - len(some), layout)
            some, held = [], 0
        some.append(path)
        held += size
    if some:
        yield _Scan(some, first + len(paths) - len(some), layout)


def _fill(con: duckdb.DuckDBPyConnection, scan: _Scan, source: CaptureSource, table: str) -> None:
    """Scan some files; where one of them can't be scanned, find it by halving and leave it out."""
    frames = frames_sql(scan.paths, source, scan.layout)
    select = f"select {scan.first} + file_index, frame_ns from ({frames})"
    try:
        con.execute(f"insert into {identifier(table)} {select}")
    except duckdb.Error:
        for half in scan.halves():
            _fill(con, half, source, table)


def _good(con: duckdb.DuckDBPyConnection, table: str) -> dict[int, CaptureRead]:
    """Keep the captures that are nothing but positive frames within bounds; take out the others."""
    name = identifier(table)
    rows = con.execute(
        f"select place, count(*), sum(frame_ns), bool_and(frame_ns > 0 is true) "
        f"from {name} group by place"
    ).fetchall()
    good = {
        place: CaptureRead(frames, int(total), ())
        for place, frames, total, plain in rows
        if plain and not bounds_problems(frames, int(total))
    }
    bad = [row[0] for row in rows if row[0] not in good]
    if bad:
        con.execute(f"delete from {name} where place in (select unnest(?))", [bad])
    return good


def _read_alone(
    con: duckdb.DuckDBPyConnection, path: Path, place: int, source: CaptureSource, table: str
) -> CaptureRead:
    read = read_capture(con, path, source, _ONE)
    if not read.problems:
        con.execute(
            f"insert into {identifier(table)} select {place}, frame_ns from {_ONE} order by rowid"
        )
    return read
