"""Hashes of frame times: SHA-256 over little-endian signed 64-bit integers of nanoseconds."""

from __future__ import annotations

import hashlib
import sys
from array import array
from bisect import bisect_left
from typing import TYPE_CHECKING

from rigledger.captures.arrow_stream import integers

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

NO_FRAMES = hashlib.sha256().hexdigest()


def frame_hashes(con: duckdb.DuckDBPyConnection, rows: str) -> dict[int, str]:
    """Hash the frame times of each file of a query.

    Args:
        con: Connection that the query is for.
        rows: A query of ``file`` (a number) and BIGINT ``frame_ns``, file by file, in the order of
            their frames: as a table holds them that was filled so.

    Returns:
        ``file`` to 64 hexadecimal digits.

    Raises:
        duckdb.Error: The query fails.
    """
    digests: dict[int, hashlib._Hash] = {}
    query = f"select file::bigint, coalesce(frame_ns, 0)::bigint from ({rows})"
    for files, frames in integers(con, query):
        for file, part in _by_file(files, frames):
            digests.setdefault(file, hashlib.sha256()).update(_little_endian(part))
    return {file: digest.hexdigest() for file, digest in digests.items()}


def _by_file(files: memoryview, frames: memoryview) -> Iterator[tuple[int, memoryview]]:
    """Cut a portion where a file ends and another begins; each stands there once."""
    start = 0
    while start < len(files):
        end = _end(files, start)
        yield files[start], frames[start:end]
        start = end


def _end(files: memoryview, start: int) -> int:
    """Find where the file that begins at a place ends, in as many looks as its length has bits."""
    file = files[start]

    def is_another(place: int) -> bool:
        return bool(files[place] != file)

    return bisect_left(range(len(files)), 1, start, key=is_another)


def _little_endian(frames: memoryview) -> memoryview | bytes:
    if sys.byteorder == "little":
        return frames
    numbers = array("q", frames.tobytes())
    numbers.byteswap()
    return numbers.tobytes()
