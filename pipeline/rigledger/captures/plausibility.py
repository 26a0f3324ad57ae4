"""Rules over all frames of a capture: what each number alone doesn't show.

Every capture is looked at through its sums and a few of its frames; the whole of it is looked
through only where these raise a doubt.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

from rigledger.captures.problems import CaptureProblem, CaptureRead
from rigledger.captures.source import NANOSECOND_DIGITS
from rigledger.captures.wrong_column import points_problem
from rigledger.contract.limits import limit
from rigledger.contract.load import load_contract
from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    import duckdb

    from rigledger.captures.source import CaptureSource

_SECOND = 10**9
_USUAL_FPS = 100


@dataclass(frozen=True, slots=True)
class _Summary:
    """A row of sql/capture_summaries.sql."""

    place: int
    frames: int
    total_ns: int
    longest_ns: int
    first_row: int
    plain: bool
    probes: Sequence[int]

    @property
    def mean_ns(self) -> float:
        return self.total_ns / self.frames


def judged(
    con: duckdb.DuckDBPyConnection, table: str, source: CaptureSource, place: str = "place"
) -> dict[int, CaptureRead]:
    """Hold the captures of a table against the rules over all their frames.

    Args:
        con: Connection that holds the table.
        table: Its name; the rows of one capture follow each other in frame order (``rowid``).
        source: The declaration by which they were read.
        place: Column that says which capture a row belongs to, or a number where there is one.

    Returns:
        Place to what came of it. A capture with a frame that isn't positive has no entry.
    """
    query = Template(_sql("capture_summaries")).substitute(
        place=place, frames=identifier(table), fewest=limit("captures.pattern_frames")
    )
    summaries = [_Summary(*row) for row in con.execute(query).fetchall()]
    return {one.place: _judge(con, table, source, one) for one in summaries if one.plain}


def _judge(
    con: duckdb.DuckDBPyConnection, table: str, source: CaptureSource, summary: _Summary
) -> CaptureRead:
    problems = (
        tuple(_pattern_problems(con, table, source, summary))
        or tuple(_unit_problems(source, summary))
        or tuple(_bounds_problems(summary))
    )
    if problems:
        return CaptureRead(0, 0, problems)
    pauses = tuple(_pauses(con, table, source, summary))
    return CaptureRead(summary.frames, int(summary.total_ns), (), pauses)


def _sql(name: str) -> str:
    return files("rigledger.captures").joinpath(f"sql/{name}.sql").read_text(encoding="utf-8")


def _is_doubtful(probes: Sequence[int], frames: int) -> bool:
    """Say whether a few frames follow a pattern that frame times don't follow by chance."""
    start, half = probes[:8], probes[8:12]
    grows = list(probes) == sorted(probes)
    pairs = any(start[k:7:2] == start[k + 1 : 8 : 2] for k in (0, 1))
    return grows or pairs or (frames % 2 == 0 and half == start[:4])


def _pattern_problems(
    con: duckdb.DuckDBPyConnection, table: str, source: CaptureSource, summary: _Summary
) -> Iterator[CaptureProblem]:
    if not summary.probes or not _is_doubtful(summary.probes, summary.frames):
        return
    rows = {
        "first": summary.first_row,
        "last": summary.first_row + summary.frames - 1,
        "half": (summary.frames + 1) // 2,
    }
    query = Template(_sql("capture_patterns")).substitute(frames=identifier(table))
    (found,) = con.execute(query, rows).fetchall()
    rises, falls, kinds, pairs, pairs_from_second, twice = found
    points = (
        None if source.timestamps else points_problem(source.column, summary.frames, rises, falls)
    )
    if points is not None:
        yield points
    elif kinds >= limit("captures.pattern_frames"):
        if pairs or pairs_from_second:
            reason = "every frame time stands there twice, one behind the other"
            yield CaptureProblem("capture_frames_doubled", None, source.column, None, reason)
        elif twice and summary.frames % 2 == 0:
            reason = f"the last {rows['half']} frame times are the first {rows['half']} once more"
            yield CaptureProblem("capture_repeats", None, source.column, None, reason)


def _unit_problems(source: CaptureSource, summary: _Summary) -> Iterator[CaptureProblem]:
    """Name the unit that gives a usual frame rate, where the declared one doesn't."""
    fps = _SECOND / summary.mean_ns
    if summary.frames < limit("captures.pattern_frames") or _is_usual(fps):
        return
    rates = {
        unit: fps * 10.0 ** (source.digits - digits) for unit, digits in NANOSECOND_DIGITS.items()
    }
    usual = {unit: rate for unit, rate in rates.items() if _is_usual(rate)}
    if not usual:
        return
    unit = min(usual, key=lambda one: abs(math.log(usual[one] / _USUAL_FPS)))
    yield CaptureProblem(
        "capture_unit", None, source.column, None,
        f"the average would be {fps:.3g} fps, and {usual[unit]:.3g} fps if the column held {unit}",
        f'state unit = "{unit}" under [captures] if that is what the column holds',
    )  # fmt: skip


def _is_usual(fps: float) -> bool:
    return limit("captures.slowest_fps") <= fps <= limit("captures.fastest_fps")


def _bounds_problems(summary: _Summary) -> Iterator[CaptureProblem]:
    """Hold the sums against the bounds of the contract's table of captures."""
    most_frames, most_ns = _bounds()
    frames, total = summary.frames, int(summary.total_ns)
    if frames > most_frames:
        yield _out_of_bounds(frames, f"{frames} frames are more than a capture may hold")
    if total > most_ns:
        yield _out_of_bounds(total, f"{total} ns in all are more than a capture may last")


def _out_of_bounds(value: int, reason: str) -> CaptureProblem:
    return CaptureProblem("capture_out_of_bounds", None, None, str(value), reason)


@lru_cache(maxsize=1)
def _bounds() -> tuple[int, int]:
    table = load_contract().table("source", "captures")
    return int(table.field("frames").maximum or 0), int(table.field("total_ns").maximum or 0)


def _pauses(
    con: duckdb.DuckDBPyConnection, table: str, source: CaptureSource, summary: _Summary
) -> Iterator[CaptureProblem]:
    longest = summary.longest_ns
    least = max(
        limit("captures.pause_s") * _SECOND, limit("captures.pause_frames") * summary.mean_ns
    )
    if longest <= least:
        return
    rows = {"first": summary.first_row, "last": summary.first_row + summary.frames - 1}
    ((nth, before),) = con.execute(
        "select pause, sum(frame_ns) filter (where nth < pause) from (select frame_ns, "
        f"rowid - $first as nth, arg_max(nth, frame_ns) over () as pause from {identifier(table)} "
        "where rowid between $first and $last) group by pause",
        rows,
    ).fetchall()
    seconds = f"{longest / _SECOND:.3g} s"
    reason = (
        f"frame {nth + 1}, {(before or 0) / _SECOND:.1f} s from the start, takes {seconds}; "
        f"the mean frame takes {summary.mean_ns / 1e6:.3g} ms"
    )
    yield CaptureProblem("capture_pause", None, source.column, None, reason)
