"""Shares captures out into batches that are reduced one after the other: memory is bounded."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.batch import files_table
from rigledger.captures.problems import CaptureError
from rigledger.contract.sql_text import identifier, literal

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# A scan names its files one by one; a statement shouldn't grow without bound.
_FILES_A_BATCH = 2_000
_SMALL_BYTES = 1 << 16


@dataclass(frozen=True, slots=True)
class Batch:
    """Captures that are reduced by one statement.

    Attributes:
        captures: Their names in ``frame_metrics_windows``.
        longest: Frames of the longest of them; more, as a rule, where that is a guess.
        is_all: Whether there is no capture beside them.
        is_guess: Whether no file was opened to count its frames.
    """

    captures: tuple[str, ...]
    longest: int
    is_all: bool = False
    is_guess: bool = False


def batches(
    con: duckdb.DuckDBPyConnection, uses: Sequence[tuple[str, int]], frames: str | None, most: int
) -> list[Batch]:
    """Plan the batches.

    Args:
        con: Connection that holds the table of frames, if there is one.
        uses: Each capture, and how many runs take a window of it.
        frames: Table in which the captures are; None for Parquet files.
        most: Bound on the frames of a batch, each counted once for every run that uses it; a
            single longer capture is a batch of its own.

    Returns:
        Batches of captures of similar length: the space kept for the slow tail is that of the
        longest.

    Raises:
        CaptureError: A file is missing or can't be read.
    """
    if not uses:
        return []
    names = [capture for capture, _ in uses]
    counts = _counts_in_files(con, names) if frames is None else _counts_in_table(con, frames)
    known = ((counts[name], name, times) for name, times in uses if name in counts)
    planned = list(_shared_out(sorted(known), most))
    if len(planned) == 1 and len(planned[0].captures) == len(counts):
        return [replace(planned[0], is_all=True)]
    return planned


def batches_of_files(
    con: duckdb.DuckDBPyConnection, uses: Sequence[tuple[str, int]], most: int
) -> list[Batch]:
    """Plan the batches of Parquet files that are used whole; small ones by their sizes alone.

    To count the frames of a file it has to be opened, which for a small one takes as long as to
    reduce it. A frame of a real capture takes two bytes or more, packed as it may be, so a file is
    taken to have no more frames than that. Who reduces a batch must look whether that was so.

    Args:
        con: Any connection.
        uses: As for `batches`.
        most: Bound on the frames of a batch.

    Raises:
        CaptureError: A file is missing or can't be read.
    """
    try:
        sized = [(Path(name).stat().st_size, name, times) for name, times in uses]
    except OSError as error:
        raise _unreadable(error) from error
    small = sorted((size // 2, name, n) for size, name, n in sized if size <= _SMALL_BYTES)
    large = [(name, n) for size, name, n in sized if size > _SMALL_BYTES]
    guessed = [replace(batch, is_guess=True) for batch in _shared_out(small, most)]
    return guessed + batches(con, large, None, most)


def _unreadable(error: Exception) -> CaptureError:
    return CaptureError(
        f"a stored capture can't be read: {str(error).splitlines()[0]}",
        next_step="put the file back, or state the capture as kept elsewhere",
    )


def _shared_out(captures: Iterable[tuple[int, str, int]], most: int) -> Iterable[Batch]:
    some: list[str] = []
    held = shortest = longest = 0
    for frames, name, times in captures:
        full = held + frames * times > most or len(some) == _FILES_A_BATCH
        if some and (full or frames > 2 * shortest):
            yield Batch(tuple(some), longest)
            some, held = [], 0
        shortest = shortest if some else frames
        longest = frames
        some.append(name)
        held += frames * times
    if some:
        yield Batch(tuple(some), longest)


def _counts_in_table(con: duckdb.DuckDBPyConnection, frames: str) -> dict[str, int]:
    # Frames are counted by the number of their file: to name it for each takes half as long again.
    rows = con.execute(
        f"select capture_file, held from {identifier(files_table(frames))} inner join "
        f"(select place, count(*) as held from {identifier(frames)} group by place) using (place)"
    )
    return dict(rows.fetchall())


def _counts_in_files(con: duckdb.DuckDBPyConnection, captures: Sequence[str]) -> dict[str, int]:
    counts: dict[str, int] = {}
    for start in range(0, len(captures), _FILES_A_BATCH):
        listed = ", ".join(literal(name) for name in captures[start : start + _FILES_A_BATCH])
        try:
            rows = con.execute(
                f"select file_name, num_rows from parquet_file_metadata([{listed}])"
            ).fetchall()
        except duckdb.Error as error:
            raise _unreadable(error) from error
        counts.update(rows)
    return counts
