"""Floors, and other ways to do what the benchmark of captures measures."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, Any

import numpy as np
import pyarrow.parquet as pq
from capture_files import listed

from rigledger.captures import batch

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from pathlib import Path

    import duckdb

TAIL = 1003  # the slowest per cent of 100,000 frames, and a place or two
TYPES = "{{'frame': 'BIGINT', 'frame_time_ms': '{}', 'note': 'VARCHAR'}}"


def bare_sum(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Decode every frame and do no more than add."""
    return con.execute(f"select sum(frame_ns) from read_parquet({listed(paths)})").fetchall()


def one_quantile(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Compute one metric with the engine's grouped aggregate, ten million frames at a time."""
    query = "select file_index, quantile_cont(frame_ns, 0.99) from read_parquet({}) group by all"
    for start in range(0, len(paths), 100):
        con.execute(query.format(listed(paths[start : start + 100]))).fetchall()
    return None


_ONE_FILE = f"select count(*), sum(frame_ns), max(frame_ns, {TAIL}) from read_parquet(?)"


def file_by_file(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Take one statement a file, with the same aggregate as ours."""
    return [con.execute(_ONE_FILE, [path.as_posix()]).fetchall() for path in paths]


def files_in_threads(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Take one statement a file, in two threads of ours."""
    halves = [(con.cursor(), paths[place::2]) for place in (0, 1)]
    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(lambda half: file_by_file(*half), halves))


def partitions(_: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Decode with Arrow, partition with numpy, in two threads of ours."""

    def reduced(path: Path) -> tuple[int, Any]:
        frames = pq.read_table(path, use_threads=False).column(0).to_numpy()
        tail = min(len(frames), TAIL)
        return int(frames.sum()), np.sort(np.partition(frames, len(frames) - tail)[-tail:])

    with ThreadPoolExecutor(2) as pool:
        return list(pool.map(reduced, paths))


def sorted_whole(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Sort every capture whole, ten files at a time, and read the places off with a window."""
    for start in range(0, len(paths), 10):
        con.execute(
            "select max(place), max(slowest) from (select row_number() over slow as place, "
            "sum(frame_ns) over slow as slowest "
            f"from read_parquet({listed(paths[start : start + 10])}) "
            "window slow as (partition by file_index order by frame_ns desc "
            "rows unbounded preceding))"
        ).fetchall()
    return None


OTHER_METRICS: dict[str, Callable[[duckdb.DuckDBPyConnection, Sequence[Path]], object]] = {
    "another way: grouped quantile_cont by batch, one metric": one_quantile,
    "another way: the same aggregate, a statement a file": file_by_file,
    "another way: a statement a file, two threads of ours": files_in_threads,
    "another way: Arrow and numpy's partition, tails only": partitions,
    "another way: every capture sorted whole": sorted_whole,
}


def typed_scan(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Read the files as the engine reads them when told the types, and which file is which."""
    return con.execute(f"create or replace temp table bench_scan as {_scan(paths, 'DOUBLE')}")


def typed_sum(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Read them so and keep nothing."""
    return con.execute(f"select sum(frame_time_ms) from ({_scan(paths, 'DOUBLE')})").fetchall()


def checked_text(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Read every cell as text, hold it against the spelling of a number, and cast it."""
    return con.execute(
        "create or replace temp table bench_scan as select file_index, case when "
        "regexp_full_match(frame_time_ms, '[0-9]+[.]?[0-9]*') then "
        f"frame_time_ms::decimal(18, 6) end as frame_time_ms from ({_scan(paths, 'VARCHAR')})"
    )


def _scan(paths: Sequence[Path], kind: str) -> str:
    return (
        f"select file_index, frame_time_ms from read_csv({listed(paths)}, "
        f"columns = {TYPES.format(kind)}, header = true, auto_detect = false, delim = ',')"
    )


OTHER_READS: dict[str, Callable[[duckdb.DuckDBPyConnection, Sequence[Path]], object]] = {
    "another way: the typed scan, added and not kept": typed_sum,
    "another way: cells as text, checked, then cast": checked_text,
}


def pandas_loop(paths: Sequence[Path]) -> list[tuple[float, ...]]:
    """Do by hand, file by file, what a person would write for the same metrics.

    Returns:
        The metrics of the contract that come from frames, of each file, in the order of their
        names.
    """
    import pandas as pd

    found = []
    for path in paths:
        frame = pd.read_csv(path)["frame_time_ms"]
        slowest = frame.sort_values(ascending=False, ignore_index=True)
        share = len(frame) / 100
        whole = int(share)
        in_share = slowest[:whole].sum() + (share - whole) * slowest[whole]
        in_all = slowest.cumsum()
        limit = frame.sum() / 100
        last = int((in_all <= limit).sum())
        before = in_all[last - 1] if last else 0.0
        in_time = last + (limit - before) / slowest[last]
        found.append(
            (
                1000 / frame.mean(),
                1000 / frame.quantile(0.99),
                1000 * share / in_share,
                1000 * in_time / limit,
            )
        )
    return found


class TestersInstall:
    """While entered, what needs Arrow is left out, as where it is not installed."""

    def __enter__(self) -> None:
        """Take it away."""
        self._held = batch.has_arrow
        batch.has_arrow = lambda: False

    def __exit__(self, *_: object) -> None:
        """Give it back."""
        batch.has_arrow = self._held
