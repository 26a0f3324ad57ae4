"""Metrics of runs from their captures, in DuckDB and in bounded memory."""

from __future__ import annotations

from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

from rigledger.captures.batch import files_table
from rigledger.captures.batches import Batch, batches, batches_of_files
from rigledger.captures.metric_sql import parts_and_metrics, tail_share
from rigledger.contract.sql_text import identifier, literal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from fractions import Fraction

    import duckdb

    from rigledger.contract.model import Metric

# Whole captures stream by and leave their slow tail only; a window needs its frames in order.
WHOLE_FRAMES_A_BATCH = 50_000_000
WINDOW_FRAMES_A_BATCH = 4_000_000

# The engine keeps the largest values of a group up to this number; beyond it they are sorted.
_LARGEST_TAIL = 900_000


def frame_metrics(
    con: duckdb.DuckDBPyConnection,
    windows: str,
    metrics: Sequence[Metric],
    *,
    frames: str | None = None,
    into: str = "frame_metrics",
    frames_a_batch: int | None = None,
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
        frames_a_batch: Bound on the frames of one statement; a single longer capture is a batch of
            its own.

    Raises:
        CaptureError: A metric can't be compiled, or a capture is not there.
    """
    chosen = [metric for metric in metrics if metric.from_frames]
    con.execute(_EMPTY.format(into=identifier(into)))
    _take_windows(con, windows)
    for whole, usual in ((True, WHOLE_FRAMES_A_BATCH), (False, WINDOW_FRAMES_A_BATCH)):
        uses = _uses(con, whole=whole)
        most = frames_a_batch or usual
        planned = (
            batches_of_files(con, uses, most)
            if whole and frames is None
            else batches(con, uses, frames, most)
        )
        for batch in planned if chosen else ():
            for rows in _reduced(con, batch, chosen, frames, whole=whole, most=most):
                con.execute(f"insert into {identifier(into)} from {rows}")
    _order(con, into)


_EMPTY = (
    "create or replace temp table {into} "
    "(run varchar, metric varchar, value double, frames bigint, covered_ns bigint)"
)


def _take_windows(con: duckdb.DuckDBPyConnection, windows: str) -> None:
    used = Template(statement("used_windows")).substitute(windows=identifier(windows))
    con.execute(f"create or replace temp table frame_metrics_windows as {used}")


def _uses(con: duckdb.DuckDBPyConnection, *, whole: bool) -> list[tuple[str, int]]:
    """Give each capture that is used whole, or in windows, with the number of runs it goes to.

    A whole capture is reduced once, however many runs it goes to.
    """
    times = "1" if whole else "count(*)"
    return con.execute(
        f"select capture_file, {times} from frame_metrics_windows where whole = ? "
        "group by capture_file order by capture_file",
        [whole],
    ).fetchall()


def _reduced(
    con: duckdb.DuckDBPyConnection,
    batch: Batch,
    metrics: Sequence[Metric],
    frames: str | None,
    *,
    whole: bool,
    most: int,
) -> Iterator[str]:
    """Give tables with the metrics of a batch; after a wrong guess its frames are counted."""
    _reduce(con, batch, metrics, frames, whole=whole)
    found = "frame_metrics_batch"
    if batch.is_guess:
        ((longest,),) = con.execute(f"select coalesce(max(frames), 0) from {found}").fetchall()
        if longest > batch.longest:
            uses = [(capture, 1) for capture in batch.captures]
            for counted in batches(con, uses, frames, most):
                yield from _reduced(con, counted, metrics, frames, whole=whole, most=most)
            return
    yield found


def _reduce(
    con: duckdb.DuckDBPyConnection,
    batch: Batch,
    metrics: Sequence[Metric],
    frames: str | None,
    *,
    whole: bool,
) -> None:
    """Fill ``frame_metrics_batch`` with the metrics of one batch."""
    _place(con, batch, frames)
    parts, rows = parts_and_metrics(metrics)
    widest = max(tail_share(metric) for metric in metrics)
    scan = Template(statement("whole_captures" if whole else "windows")).substitute(
        scan=_scan(batch.captures, frames, all_of_them=batch.is_all),
        slowest=slowest_frames(batch.longest, widest),
    )
    con.execute(
        Template(statement("frame_metrics")).substitute(reduced=scan, parts=parts, metrics=rows)
    )


def _place(con: duckdb.DuckDBPyConnection, batch: Batch, frames: str | None) -> None:
    """Say which capture of a batch stands where: among the files scanned, or in the table."""
    select = "select unnest($1) as capture_file, unnest(range(len($1))) as place"
    if frames is not None:
        named = identifier(files_table(frames))
        select = (
            f"select capture_file, place from {named} where capture_file in (select unnest($1))"
        )
    con.execute(
        f"create or replace temp table frame_metrics_places as {select}", [list(batch.captures)]
    )


def statement(name: str) -> str:
    """Give the text of a statement, by its name; it may leave parts open."""
    return files("rigledger.captures").joinpath(f"sql/{name}.sql").read_text(encoding="utf-8")


def _scan(captures: Sequence[str], frames: str | None, *, all_of_them: bool) -> str:
    """Compile the scan of a batch: rows of file_index, file_row_number and frame_ns.

    Frames of other captures than the batch's do no harm, so a table is not searched for it where
    all its captures are in it.
    """
    if frames is None:
        listed = ", ".join(literal(capture) for capture in captures)
        return f"read_parquet([{listed}], file_row_number = true)"
    select = (
        f"select place as file_index, rowid as file_row_number, frame_ns from {identifier(frames)}"
    )
    if all_of_them:
        return f"({select})"
    return f"({select} where place in (select place from frame_metrics_places))"


def slowest_frames(longest: int, widest: Fraction) -> str:
    """Compile the slowest frames of a run, slowest first: as many as any of the tails can need.

    A tail of a share p of n frames looks at most two places beyond n * p.

    Args:
        longest: Frames of the longest capture.
        widest: The widest tail.
    """
    most = int(longest * widest) + 3
    if most > _LARGEST_TAIL:
        return "list(frame_ns order by frame_ns desc)"
    return f"max(frame_ns, {most})"


def _order(con: duckdb.DuckDBPyConnection, into: str) -> None:
    name = identifier(into)
    con.execute(f"create or replace temp table {name} as from {name} order by run, metric")
    for used in ("frame_metrics_batch", "frame_metrics_places", "frame_metrics_windows"):
        con.execute(f"drop table if exists {used}")
