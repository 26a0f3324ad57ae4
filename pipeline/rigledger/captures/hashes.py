"""Hashes of frame times: SHA-256 over little-endian signed 64-bit integers of nanoseconds."""

from __future__ import annotations

import hashlib
import sys
from array import array
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import duckdb

NO_FRAMES = hashlib.sha256().hexdigest()

# Below this, lists of Python numbers take less time than loading numpy, if it isn't loaded yet.
_LEAST_FRAMES = 4_000_000
_FRAMES_A_LIST = 65_536
_FRAMES_AN_ARRAY = 4_000_000


def frame_hashes(con: duckdb.DuckDBPyConnection, rows: str) -> dict[int, str]:
    """Hash the frame times of each file of a query.

    Args:
        con: Connection that the query is for.
        rows: A query of ``file`` (a number), ``row`` (the order of its frames; no two rows of
            different files lie in each other's range) and BIGINT ``frame_ns``.

    Returns:
        ``file`` to 64 hexadecimal digits.
    """
    ((frames,),) = con.execute(f"select count(*) from ({rows})").fetchall()
    worth_it = frames >= _LEAST_FRAMES or "numpy" in sys.modules
    fetched = _by_arrays if worth_it and find_spec("numpy") else _by_lists
    digests: dict[int, hashlib._Hash] = {}
    for file, data in fetched(con, rows):
        digests.setdefault(file, hashlib.sha256()).update(data)
    return {file: digest.hexdigest() for file, digest in digests.items()}


def _by_lists(con: duckdb.DuckDBPyConnection, rows: str) -> Iterator[tuple[int, bytes]]:
    portion = f"row // {_FRAMES_A_LIST}"
    cursor = con.execute(
        f"select file, list(frame_ns order by row) from ({rows}) "
        f"group by file, {portion} order by file, {portion}"
    )
    while some := cursor.fetchmany(16):
        for file, frames in some:
            numbers = array("q", frames)
            if sys.byteorder == "big":
                numbers.byteswap()
            yield file, numbers.tobytes()


def _by_arrays(con: duckdb.DuckDBPyConnection, rows: str) -> Iterator[tuple[int, bytes]]:
    import numpy as np

    ((last,),) = con.execute(f"select coalesce(max(row), -1) from ({rows})").fetchall()
    for first in range(0, last + 1, _FRAMES_AN_ARRAY):
        held = con.execute(
            f"select file, row, frame_ns from ({rows}) "
            f"where row between {first} and {first + _FRAMES_AN_ARRAY - 1}"
        ).fetchnumpy()
        files, frames = _in_order(held)
        starts = [0, *(np.flatnonzero(np.diff(files)) + 1).tolist()] if len(files) else []
        for start, part in zip(starts, np.split(frames, starts[1:]), strict=bool(starts)):
            yield int(files[start]), part.astype("<i8").tobytes()


def _in_order(held: Mapping[str, Any]) -> tuple[Any, Any]:
    """Sort what was fetched by row; the database gives it in order as a rule, and sorts slowly."""
    import numpy as np

    files, rows, frames = held["file"], held["row"], held["frame_ns"]
    if (np.diff(rows) > 0).all():
        return files, frames
    order = np.argsort(rows)
    return files[order], frames[order]
