"""Many handed-in captures at once: read with Arrow where it is there, else by few statements.

What a single file gives here is what `read_capture` gives; only the way to it differs.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.captures.arrow_read import (
    LEAST_BYTES,
    frames_of_files,
    has_arrow,
    may_be_parsed,
)
from rigledger.captures.plausibility import judged
from rigledger.captures.read import parse_capture
from rigledger.captures.scans import fill, in_portions, scans_of, size_of_all
from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    import duckdb

    from rigledger.captures.arrow_read import Frames
    from rigledger.captures.problems import CaptureRead
    from rigledger.captures.source import CaptureSource

_BYTES_A_PORTION = 16 << 20
_ONE = "rigledger_one_capture"
_PARSED = "rigledger_parsed_frames"


def read_captures(
    con: duckdb.DuckDBPyConnection,
    paths: Sequence[Path],
    source: CaptureSource,
    table: str,
    *,
    shared: bool = False,
) -> dict[str, CaptureRead]:
    """Read captures into one temporary table.

    Args:
        con: Connection that gets the tables; tables of these names are replaced.
        paths: CSV files, also packed, or Parquet files.
        source: The declaration of their column, unit and layout.
        table: Name of the table: ``place`` and BIGINT ``frame_ns``; the rows of one file follow
            each other in frame order (``rowid``). Files with problems have none. Beside it stands
            ``<table>_files``: ``place`` and ``capture_file`` (the path, with ``/``).
        shared: Whether both are no temporary tables, which other cursors of the connection see.

    Returns:
        Path (with ``/``) to frames and total time, or to every problem.

    Raises:
        FileNotFoundError: One of the files is missing from the start.
    """
    _refuse_missing(paths)
    kind = "table" if shared else "temp table"
    con.execute(f"create or replace {kind} {identifier(table)} (place integer, frame_ns bigint)")
    placed = _parse(con, list(dict.fromkeys(paths)), source, table)
    for scan in scans_of(con, _others(paths, placed), source):
        fill(con, scan, len(placed), table)
        placed += scan.paths
    placed += _others(paths, placed)
    _name_files(con, placed, table, kind)
    reads = _judged(con, placed, source, table)
    return {path.as_posix(): reads[path] for path in paths}


def files_table(table: str) -> str:
    """Name the table that says which file stands at which place."""
    return f"{table}_files"


def _refuse_missing(paths: Iterable[Path]) -> None:
    for path in paths:
        if not path.is_file():
            raise FileNotFoundError(path)


def _others(paths: Iterable[Path], some: Iterable[Path]) -> list[Path]:
    held = set(some)
    return [path for path in dict.fromkeys(paths) if path not in held]


def _name_files(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path], table: str, kind: str
) -> None:
    con.execute(
        f"create or replace {kind} {identifier(files_table(table))} as "
        "select unnest(range(len($1))) as place, unnest($1::varchar[]) as capture_file",
        [[path.as_posix() for path in paths]],
    )


def _parse(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path], source: CaptureSource, table: str
) -> list[Path]:
    """Fill the table with the CSV files that Arrow reads; gives them in the order of places."""
    texts = [path for path in paths if path.suffix.lower() != ".parquet"]
    if not may_be_parsed(source) or size_of_all(texts) < LEAST_BYTES or not has_arrow():
        return []
    threads = int(_one(con, "select current_setting('threads')"))
    placed: list[Path] = []
    for taken in frames_of_files(in_portions(texts, _BYTES_A_PORTION), source, threads):
        _insert(con, [frames for _, frames in taken], len(placed), table)
        placed += [path for path, _ in taken]
    return placed


def _insert(
    con: duckdb.DuckDBPyConnection, files: Sequence[Frames], first: int, table: str
) -> None:
    import numpy as np

    if not files:
        return
    # Integers as short as the table's: the database need not turn longer ones into them.
    numbers = np.arange(first, first + len(files), dtype=np.int32)
    places = np.repeat(numbers, [len(frames) for frames in files])
    # Arrays, not an Arrow table: to scan one the database reserves 1 GiB of address space.
    con.register(_PARSED, {"place": places, "frame_ns": np.concatenate(files)})
    con.execute(f"insert into {identifier(table)} from {_PARSED}")
    con.unregister(_PARSED)


def _judged(
    con: duckdb.DuckDBPyConnection, placed: Sequence[Path], source: CaptureSource, table: str
) -> dict[Path, CaptureRead]:
    """Read one by one what wasn't plain, and take out of the table what has problems."""
    reads = judged(con, table, source)
    alone = [place for place in range(len(placed)) if place not in reads]
    _take_out(con, alone, table)
    for place in alone:
        reads[place] = _read_alone(con, placed[place], place, source, table)
    con.execute(f"drop table if exists {_ONE}")
    _take_out(con, [place for place, read in reads.items() if read.problems], table)
    return {placed[place]: read for place, read in reads.items()}


def _take_out(con: duckdb.DuckDBPyConnection, places: Sequence[int], table: str) -> None:
    if places:
        con.execute(f"delete from {identifier(table)} where place in (select unnest(?))", [places])


def _read_alone(
    con: duckdb.DuckDBPyConnection, path: Path, place: int, source: CaptureSource, table: str
) -> CaptureRead:
    read = parse_capture(con, path, source, _ONE)
    if read.problems:
        return read
    con.execute(
        f"insert into {identifier(table)} select {place}, frame_ns from {_ONE} order by rowid"
    )
    return judged(con, _ONE, source, place="0")[0]


def _one(con: duckdb.DuckDBPyConnection, query: str) -> Any:  # noqa: ANN401 - of the query's type
    return con.execute(query).fetchall()[0][0]
