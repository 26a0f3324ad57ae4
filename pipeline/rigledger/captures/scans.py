"""Groups handed-in captures so that one statement of the database reads many of them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import partial
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.fast_read import Layout, frames_sql, layout_of, may_be_plain
from rigledger.captures.packed import PACKED, UNREADABLE
from rigledger.captures.parquet_read import alike, columns_of, parquet_sql, type_problem
from rigledger.captures.read import column_problem
from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

BYTES_A_SCAN = 64 << 20
# What is logged packs to a third or less.
_TIMES_PACKED = 3


@dataclass(frozen=True)
class Scan:
    """Files that are read by one statement.

    Attributes:
        paths: The files.
        compiled: Turns files to a query of ``file_index`` (place in them) and ``frame_ns``.
    """

    paths: Sequence[Path]
    compiled: Callable[[Sequence[Path]], str]

    def halves(self) -> tuple[Scan, ...]:
        """Give two scans of half the files each, none where there is a single file."""
        half = len(self.paths) // 2
        if half == 0:
            return ()
        return replace(self, paths=self.paths[:half]), replace(self, paths=self.paths[half:])


def scans_of(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path], source: CaptureSource
) -> Iterator[Scan]:
    """Group the files that the database can read itself; the others are left out."""
    parquet = [path for path in paths if path.suffix.lower() == ".parquet"]
    texts = [path for path in paths if path.suffix.lower() != ".parquet"]
    if may_be_plain(source):
        yield from _of_texts(texts, source)
    yield from _of_parquet(con, parquet, source)


def fill(con: duckdb.DuckDBPyConnection, scan: Scan, first: int, table: str) -> None:
    """Scan files into a table; where one of them can't be scanned, find it by halving.

    Args:
        con: Connection that holds the table.
        scan: The files.
        first: Place of the first of them; the places of the others follow.
        table: Name of the table: ``place`` and ``frame_ns``.
    """
    select = f"select {first} + file_index, frame_ns from ({scan.compiled(scan.paths)})"
    try:
        con.execute(f"insert into {identifier(table)} {select}")
    except duckdb.Error:
        for half in scan.halves():
            fill(con, half, first, table)
            first += len(half.paths)


def in_portions(paths: Sequence[Path], most: int) -> Iterator[Sequence[Path]]:
    """Cut a list of files into portions of at most so many bytes, or of one file."""
    start = held = 0
    for place, path in enumerate(paths):
        size = _size(path)
        if held and held + size > most:
            yield paths[start:place]
            start, held = place, 0
        held += size
    if start < len(paths):
        yield paths[start:]


def size_of_all(paths: Sequence[Path]) -> int:
    """Estimate the unpacked bytes of files together; one that is gone has none."""
    return sum(_size(path) * (_TIMES_PACKED if path.suffix in PACKED else 1) for path in paths)


def _size(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _of_texts(paths: Sequence[Path], source: CaptureSource) -> Iterator[Scan]:
    groups: dict[Layout, list[Path]] = {}
    for path in paths:
        try:
            groups.setdefault(layout_of(path, source), []).append(path)
        except UNREADABLE:
            continue
    for layout, group in groups.items():
        if column_problem(layout.header, source) is None:
            compiled = partial(frames_sql, source=source, layout=layout)
            yield from (Scan(some, compiled) for some in in_portions(group, BYTES_A_SCAN))


def _of_parquet(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path], source: CaptureSource
) -> Iterator[Scan]:
    for group in alike(con, paths):
        try:
            columns = columns_of(con, group[0])
        except duckdb.Error:
            continue
        kind = columns.get(source.column)
        if kind is not None and type_problem(kind, source) is None:
            compiled = partial(parquet_sql, source=source, kind=kind)
            yield from (Scan(some, compiled) for some in in_portions(group, BYTES_A_SCAN))
