"""Metrics of runs from their stored captures, in DuckDB and in bounded memory."""

from __future__ import annotations

from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.metric_sql import parts_and_metrics, tail_share
from rigledger.captures.problems import CaptureError
from rigledger.captures.sql_text import identifier, literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.contract.model import Metric

# One batch sorts this many frames at once, about 100 bytes each.
FRAMES_A_BATCH = 4_000_000

# Below this many frames a run is sorted whole: a quantile would cut off ranks that are needed.
_SHORT_RUN = 1_000


def frame_metrics(
    con: duckdb.DuckDBPyConnection,
    windows: str,
    metrics: Sequence[Metric],
    *,
    frames: str | None = None,
    into: str = "frame_metrics",
    frames_a_batch: int = FRAMES_A_BATCH,
) -> None:
    """Compute every metric that can be made from frames, for every run.

    A window takes the frames that **end** after ``from_s`` and no later than ``from_s + for_s``,
    by exact integers: the first frame belongs to it whole even if it began earlier, and windows
    that follow each other share no frame and lose none.

    Args:
        con: Connection; gets the result as a temporary table.
        windows: Table or view with a row a run: ``run``, ``capture_file`` (path of a Parquet file
            with a BIGINT column ``frame_ns``), ``from_s`` (blank: from the start), ``for_s``
            (blank: to the end).
        metrics: Metrics of the contract; those that aren't made from frames are left out.
        frames: Table as `read_captures` fills it, in which the captures are; None for files.
        into: Name of the result: ``run``, ``metric``, ``value`` (in the metric's unit),
            ``frames`` in the window, ``covered_ns`` (their time), ordered by run and metric. A run
            whose window holds no frame has no row.
        frames_a_batch: Bound on the frames sorted at once; a single longer capture is a batch of
            its own.

    Raises:
        CaptureError: A metric can't be compiled, or a capture is not there.
    """
    chosen = [metric for metric in metrics if metric.from_frames]
    con.execute(_EMPTY.format(into=identifier(into)))
    _take_windows(con, windows)
    if chosen:
        for batch, captures in enumerate(_batches(_sizes(con, frames), frames_a_batch)):
            _mark_batch(con, batch, captures)
            con.execute(_batch_sql(chosen, batch, _scan(captures, frames)))
            con.execute(f"insert into {identifier(into)} from frame_metrics_batch")
    _order(con, into)


_EMPTY = (
    "create or replace temp table {into} "
    "(run varchar, metric varchar, value double, frames bigint, covered_ns bigint)"
)


def _take_windows(con: duckdb.DuckDBPyConnection, windows: str) -> None:
    """Turn seconds to whole nanoseconds; DECIMAL takes the shortest decimal of a double."""
    con.execute(
        f"""create or replace temp table frame_metrics_windows as
        select run, capture_file, null::bigint as batch,
            cast(coalesce(from_s, 0)::decimal(28, 9) * 1000000000 as bigint) as from_ns,
            cast((coalesce(from_s, 0)::decimal(28, 9) + for_s::decimal(28, 9)) * 1000000000
                as bigint) as to_ns
        from {identifier(windows)}"""
    )


def _batches(sizes: Sequence[tuple[str, int]], frames_a_batch: int) -> list[list[str]]:
    """Share the captures out so that no batch sorts more frames than allowed."""
    batches: list[list[str]] = []
    held = frames_a_batch
    for capture, count in sizes:
        if held + count > frames_a_batch:
            batches.append([])
            held = 0
        batches[-1].append(capture)
        held += count
    return batches


def _sizes(con: duckdb.DuckDBPyConnection, frames: str | None) -> list[tuple[str, int]]:
    """Give each capture with the frames it puts into a batch: its own, once for each window."""
    uses = con.execute(
        "select capture_file, count(*) from frame_metrics_windows group by all order by all"
    ).fetchall()
    if not uses:
        return []
    counts = (
        _counts_in_files(con, [file for file, _ in uses])
        if frames is None
        else dict(
            con.execute(
                f"select capture_file, count(*) from {identifier(frames)} group by all"
            ).fetchall()
        )
    )
    return [(file, counts[file] * times) for file, times in uses if file in counts]


def _counts_in_files(con: duckdb.DuckDBPyConnection, captures: Sequence[str]) -> dict[str, int]:
    files_list = ", ".join(literal(capture) for capture in captures)
    try:
        rows = con.execute(
            f"select file_name, num_rows from parquet_file_metadata([{files_list}])"
        ).fetchall()
    except duckdb.Error as error:
        raise CaptureError(
            f"a stored capture can't be read: {str(error).splitlines()[0]}",
            next_step="put the file back, or state the capture as kept elsewhere",
        ) from error
    return dict(rows)


def _scan(captures: Sequence[str], frames: str | None) -> str:
    """Compile the scan of a batch: rows of filename, file_row_number and frame_ns."""
    listed = ", ".join(literal(capture) for capture in captures)
    if frames is None:
        return f"read_parquet([{listed}], filename = true, file_row_number = true)"
    return (
        f"(select capture_file as filename, rowid as file_row_number, frame_ns "
        f"from {identifier(frames)} where capture_file in ({listed}))"
    )


def _mark_batch(con: duckdb.DuckDBPyConnection, batch: int, captures: Sequence[str]) -> None:
    con.execute(
        "update frame_metrics_windows set batch = ? where capture_file in (select unnest(?))",
        [batch, list(captures)],
    )


def _batch_sql(metrics: Sequence[Metric], batch: int, scan: str) -> str:
    parts, rows = parts_and_metrics(metrics)
    widest = max(tail_share(metric) for metric in metrics)
    template = files("rigledger.captures").joinpath("sql/frame_metrics.sql")
    return Template(template.read_text(encoding="utf-8")).substitute(
        scan=scan,
        batch=batch,
        slow_quantile=max(0.0, 1 - 2 * float(widest)),
        short_run=_short_run(float(widest)),
        parts=parts,
        metrics=rows,
    )


def _short_run(widest: float) -> int:
    """Give the number of frames from which twice the widest tail holds every rank needed."""
    return max(_SHORT_RUN, int(4 / widest) + 1) if widest else 0


def _order(con: duckdb.DuckDBPyConnection, into: str) -> None:
    name = identifier(into)
    con.execute(f"create or replace temp table {name} as from {name} order by run, metric")
    for used in ("frame_metrics_batch", "frame_metrics_windows"):
        con.execute(f"drop table if exists {used}")
