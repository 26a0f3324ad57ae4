"""Reads plain CSV captures with Arrow, some files at a time: what the curator's install can do.

A file is taken only where its frame times come out exactly as the other readers give them, and
refused without a word where there is any doubt; the others then read it, and say what is wrong.

Numbers are parsed as binary fractions, which are faster than decimals, and still end as the exact
whole nanosecond: parsing and scaling err by less than a half unit in the last place each, below
2^-11 ns for times below `_MOST_NS`, so that a result farther than `_NEAR_HALF` from the half
between two nanoseconds was rounded as its decimal text would have been.
"""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from importlib.util import find_spec
from typing import TYPE_CHECKING, Any

from rigledger.captures.packed import PACKED, UNREADABLE, is_utf8, open_bytes
from rigledger.captures.slow_read import names_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    import numpy as np
    import numpy.typing as npt

    from rigledger.captures.source import CaptureSource

    Frames = npt.NDArray[np.int64]

# Loading Arrow takes as long as the database takes to read so much.
LEAST_BYTES = 32 << 20

# A file is held in memory whole; the database streams longer ones.
_MOST_BYTES = 256 << 20
_BYTES_AT_ONCE = 1 << 20
_MOST_NS = 2.0**41
_NEAR_HALF = 2.0**-10
_FAR_ENOUGH = 0.5 - _NEAR_HALF


def has_arrow() -> bool:
    """Say whether this install can read with Arrow: the tester's has neither it nor numpy."""
    return find_spec("pyarrow") is not None and find_spec("numpy") is not None


def may_be_parsed(source: CaptureSource) -> bool:
    """Say whether Arrow reads files of this declaration."""
    return is_utf8(source.encoding) and source.delimiter.isascii()


def frames_of_files(
    portions: Iterable[Sequence[Path]], source: CaptureSource, threads: int
) -> Iterator[list[tuple[Path, Frames]]]:
    """Give the frame times of plain files in nanoseconds; those that aren't plain are left out.

    Args:
        portions: CSV files, also packed; while the caller works on one portion, the next is read.
        source: The declaration of their column and layout.
        threads: How many files are read at once.
    """
    with ThreadPoolExecutor(threads) as pool:
        reads = ((some, pool.map(lambda path: frames_of(path, source), some)) for some in portions)
        ahead = next(reads, None)
        while ahead is not None:
            (some, found), ahead = ahead, next(reads, None)
            pairs = zip(some, found, strict=True)
            yield [(path, frames) for path, frames in pairs if frames is not None]


def frames_of(path: Path, source: CaptureSource) -> Frames | None:
    """Give the frame times of one file, positive nanoseconds in order; None where any is in doubt.

    What is not a file, can't be unpacked or read, is in doubt too.
    """
    import pyarrow as pa

    try:
        data = _bytes(path)
        header = None if data is None else _plain_header(data, source)
        if data is None or header is None:
            return None
        cells = _cells(data, header, source)
    except (*UNREADABLE, pa.ArrowException):
        return None
    return None if cells.null_count else _exact(cells.to_numpy(), source)


def _bytes(path: Path) -> bytes | None:
    if path.suffix.lower() not in PACKED:
        return path.read_bytes() if path.stat().st_size <= _MOST_BYTES else None
    held = bytearray()
    with open_bytes(path) as stream:
        while chunk := stream.read(_BYTES_AT_ONCE):
            held += chunk
            if len(held) > _MOST_BYTES:
                return None
    return bytes(held)


def _plain_header(data: bytes, source: CaptureSource) -> list[str] | None:
    """Give the names of the columns; None where the text or the first row needs a closer look."""
    if not data.isascii():
        data.decode("utf-8")
    line = data[: data.find(b"\n") + 1].decode("utf-8-sig").removesuffix("\n").removesuffix("\r")
    if not line or '"' in line or "\r" in line:
        return None
    names = names_of(line, source)
    return names if names.count(source.column) == 1 else None


def _cells(data: bytes, header: Sequence[str], source: CaptureSource) -> Any:  # noqa: ANN401 - a chunked array of an untyped library
    """Parse the declared column; Arrow refuses rows of another width and what is no number."""
    import pyarrow as pa
    from pyarrow import csv

    names = [f"c{place}" for place in range(len(header))]
    column = names[header.index(source.column)]
    read = csv.ReadOptions(
        use_threads=False, skip_rows=1, column_names=names, block_size=len(data) + 1
    )
    # Where there is no quote, the parser need not look for one: a fifth less time.
    quote: str | bool = '"' if b'"' in data else False
    parse = csv.ParseOptions(
        delimiter=source.delimiter,
        quote_char=quote,
        newlines_in_values=bool(quote),
        ignore_empty_lines=len(names) > 1,
    )
    convert = csv.ConvertOptions(
        include_columns=[column],
        column_types={column: pa.float64()},
        null_values=[""],
        decimal_point=source.decimal,
    )
    # The system's allocator reserves no address space, of which a confined process has little.
    table = csv.read_csv(pa.py_buffer(data), read, parse, convert, pa.system_memory_pool())
    return table.column(0)


def _exact(values: npt.NDArray[np.float64], source: CaptureSource) -> Frames | None:
    import numpy as np

    scaled = values * 10.0**source.digits
    # A comparison with NaN is false, so that it is in doubt as well.
    if not (len(values) and scaled.min() > -_MOST_NS and scaled.max() < _MOST_NS):
        return None
    whole = np.rint(scaled)
    away = np.subtract(scaled, whole, out=scaled)
    if not (away.min() > -_FAR_ENOUGH and away.max() < _FAR_ENOUGH):
        return None
    frames = whole.astype(np.int64)
    if source.timestamps:
        frames = np.diff(frames)
    return frames if len(frames) and frames.min() > 0 else None
