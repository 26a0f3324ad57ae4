"""Captures at scale: metrics against a bare sum, reading against DuckDB's typed scan and pandas.

    python ci/bench/captures.py            10^8 frames in Parquet, 10^7 in 1,000 CSV files
    python ci/bench/captures.py --quick    a tenth of each
    python ci/bench/captures.py --json out.json

All ratios are of the same run on the same files; the two sides of a ratio take turns, and the best
time of each counts. Bounds: all metrics of the contract within 2.5 times `select sum(frame_ns)`,
below 1 GiB of memory; reading CSV within 1.25 times DuckDB's own typed scan, and read and reduced
at least 5 times as fast as a pandas loop; three times the frames within 3.6 times the time. Exits 1
when a figure falls short. Memory is that of a process of its own, as Linux states it.
"""

from __future__ import annotations

import argparse
import json
import math
import os
import subprocess
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.batch import read_captures
from rigledger.captures.metrics import frame_metrics
from rigledger.captures.source import CaptureSource
from rigledger.contract import load_contract

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

MOST_TIMES_SUM, MOST_TIMES_SCAN, LEAST_TIMES_PANDAS = 2.5, 1.25, 5.0
MOST_GROWTH, MOST_MEMORY_MIB = 3.6, 1024.0
STATUS = Path("/proc/self/status")
SOURCE = CaptureSource("frame_time_ms", 6)
METRICS = tuple(load_contract().metrics.values())

# A seeded lognormal frame time around 9 ms with a scatter of 25 %.
FRAMES = """
    select cast(exp(16 + 0.25 * sqrt(-2 * ln(u)) * cos(2 * pi() * v)) as bigint) as frame_ns
    from (
        select (hash(i, {seed}) + 1) / 18446744073709551617.0::double as u,
            hash(i, {seed} + 500000) / 18446744073709551616.0::double as v
        from range({frames}) as t (i)
    )
"""


@dataclass
class Figures:
    """Figures beside their bounds."""

    held: dict[str, float] = field(default_factory=dict)
    short: list[str] = field(default_factory=list)

    def ratio(self, name: str, value: float, bound: str = "", *, good: bool = True) -> None:
        """Print one figure, and remember whether it fell short."""
        self.held[name] = round(value, 4)
        if not good:
            self.short.append(name)
        mark = ("ok" if good else "SHORT") if bound else ""
        print(f"  {name:58} {value:9.3f}  {bound:12} {mark}", flush=True)


def main() -> int:
    """Run the benchmark."""
    parser = argparse.ArgumentParser(description="Captures at scale.")
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--json", type=Path, default=None)
    parser.add_argument("--memory-of", type=Path, default=None, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.memory_of:
        return metrics_alone(asked.memory_of)
    tenth = 10 if asked.quick else 1
    figures = Figures()
    with tempfile.TemporaryDirectory() as folder:
        parquet_figures(Path(folder), figures, files=1000 // tenth, frames=100_000)
        csv_figures(Path(folder), figures, files=1000 // tenth, frames=10_000)
    if asked.json:
        asked.json.write_text(json.dumps(figures.held, indent=2) + "\n", encoding="utf-8")
    print("\nall figures within their bounds" if not figures.short else f"\nshort: {figures.short}")
    return 1 if figures.short else 0


def parquet_figures(folder: Path, figures: Figures, *, files: int, frames: int) -> None:
    """Measure the metrics over stored captures, and other ways to compute some of them."""
    print(f"\n{files * frames:.0e} frames in {files} Parquet files; ratios to select sum(frame_ns)")
    paths = parquet_files(folder / "parquet", files, frames)
    con = duckdb.connect()
    floor, ours = best(lambda: bare_sum(con, paths), lambda: metrics_of(con, paths))
    bound = f"<= {MOST_TIMES_SUM}"
    figures.ratio("bare sum, s", floor)
    ratio = ours / floor
    figures.ratio("all metrics of the contract", ratio, bound, good=ratio <= MOST_TIMES_SUM)
    for name, way in OTHER_WAYS.items():
        figures.ratio(name, best(lambda way=way: way(con, paths), times=1)[0] / floor)
    thrice = tripled(folder / "thrice", paths)
    once, three, sum_of_three = best(
        lambda: metrics_of(con, paths),
        lambda: metrics_of(con, thrice),
        lambda: bare_sum(con, thrice),
    )
    growth = three / once
    con.close()
    figures.ratio("three times the frames, bare sum", sum_of_three / floor)
    bound = f"<= {MOST_GROWTH}"
    figures.ratio("three times the frames, time", growth, bound, good=growth <= MOST_GROWTH)
    memory = memory_mib(folder / "parquet")
    if memory is not None:
        bound = f"<= {MOST_MEMORY_MIB:.0f}"
        good = memory <= MOST_MEMORY_MIB
        figures.ratio("peak memory of the process, MiB", memory, bound, good=good)


def csv_figures(folder: Path, figures: Figures, *, files: int, frames: int) -> None:
    """Measure reading CSV captures, and reading and reducing them against pandas."""
    print(f"\n{files * frames:.0e} frames in {files} CSV files")
    paths = csv_files(folder / "csv", files, frames)
    con = duckdb.connect()
    scan, read, whole, by_hand = best(
        lambda: typed_scan(con, paths),
        lambda: ours_read(con, paths),
        lambda: (ours_read(con, paths), metrics_of(con, paths, frames="bench_frames")),
        lambda: pandas_loop(paths),
    )
    con.close()
    bound = f"<= {MOST_TIMES_SCAN}"
    good = read <= MOST_TIMES_SCAN * scan
    figures.ratio("DuckDB's own typed scan into a table, s", scan)
    figures.ratio("read to exact nanoseconds, to that scan", read / scan, bound, good=good)
    times = by_hand / whole
    bound = f">= {LEAST_TIMES_PANDAS}"
    good = times >= LEAST_TIMES_PANDAS
    figures.ratio("pandas loop, to reading and reducing here", times, bound, good=good)


def best(*works: Callable[[], object], times: int = 3) -> list[float]:
    """Give the shortest time of each in seconds; they take turns, so that load hits all alike."""
    found = [math.inf] * len(works)
    for _ in range(times):
        for place, work in enumerate(works):
            start = time.perf_counter()
            work()
            found[place] = min(found[place], time.perf_counter() - start)
    return found


def parquet_files(folder: Path, files: int, frames: int) -> list[Path]:
    """Write seeded captures in the form of the store."""
    folder.mkdir()
    paths = [folder / f"{number:05}.parquet" for number in range(files)]
    with duckdb.connect() as con:
        for seed, path in enumerate(paths):
            query = FRAMES.format(seed=seed, frames=frames)
            con.execute(f"copy ({query}) to '{path.as_posix()}' (compression zstd)")
    return paths


def csv_files(folder: Path, files: int, frames: int) -> list[Path]:
    """Write seeded captures as a logger would: milliseconds, four decimals, two more columns."""
    folder.mkdir()
    paths = [folder / f"{number:05}.csv" for number in range(files)]
    with duckdb.connect() as con:
        for seed, path in enumerate(paths):
            query = (
                "select row_number() over () as frame, "
                "printf('%.4f', frame_ns / 1e6) as frame_time_ms, 'a' as note "
                f"from ({FRAMES.format(seed=seed, frames=frames)})"
            )
            con.execute(f"copy ({query}) to '{path.as_posix()}' (header)")
    return paths


def tripled(folder: Path, paths: Sequence[Path]) -> list[Path]:
    """Give three names to every file: three times the work without three times the disk."""
    folder.mkdir()
    found = []
    for path in paths:
        for copy in range(3):
            found.append(folder / f"{copy}-{path.name}")
            os.link(path, found[-1])
    return found


def listed(paths: Sequence[Path]) -> str:
    """Give the files as a list in SQL."""
    return "[" + ", ".join(f"'{path.as_posix()}'" for path in paths) + "]"


def bare_sum(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Decode every frame and do no more than add."""
    return con.execute(f"select sum(frame_ns) from read_parquet({listed(paths)})").fetchall()


def metrics_of(
    con: duckdb.DuckDBPyConnection, paths: Sequence[Path], frames: str | None = None
) -> int:
    """Compute every metric of every file, each a run."""
    con.execute(
        "create or replace table windows as select file as run, file as capture_file, "
        "null::double as from_s, null::double as for_s from (select unnest($1) as file)",
        [[path.as_posix() for path in paths]],
    )
    frame_metrics(con, "windows", METRICS, frames=frames)
    row = con.execute("select count(*) from frame_metrics").fetchall()
    expected = len(paths) * sum(metric.from_frames for metric in METRICS)
    if row != [(expected,)]:
        raise RuntimeError(f"{row} rows instead of {expected}")
    return expected


def one_quantile(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Compute one of the metrics with the grouped aggregate of the engine."""
    return con.execute(
        f"select file_index, quantile_cont(frame_ns, 0.99) from read_parquet({listed(paths)}) "
        "group by file_index"
    ).fetchall()


def file_by_file(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Take one statement a file, with the same aggregate as ours."""
    query = "select count(*), sum(frame_ns), max(frame_ns, 1003) from read_parquet(?)"
    return [con.execute(query, [path.as_posix()]).fetchone() for path in paths]


def sorted_whole(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Sort every capture whole, ten files at a time."""
    for start in range(0, len(paths), 10):
        con.execute(
            "select max(place), max(slowest) from (select row_number() over slow as place, "
            "sum(frame_ns) over slow as slowest "
            f"from read_parquet({listed(paths[start : start + 10])}) "
            "window slow as (partition by file_index order by frame_ns desc "
            "rows unbounded preceding))"
        ).fetchall()
    return None


OTHER_WAYS: dict[str, Callable[[duckdb.DuckDBPyConnection, Sequence[Path]], object]] = {
    "another way: grouped quantile_cont, one metric": one_quantile,
    "another way: the same aggregate, a statement a file": file_by_file,
    "another way: every capture sorted whole": sorted_whole,
}


def typed_scan(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> object:
    """Read the files as DuckDB reads them when it is told the types, and which file is which."""
    columns = "{'frame': 'BIGINT', 'frame_time_ms': 'DOUBLE', 'note': 'VARCHAR'}"
    return con.execute(
        "create or replace temp table bench_scan as select file_index, frame_time_ms from "
        f"read_csv({listed(paths)}, columns = {columns}, header = true, auto_detect = false, "
        "delim = ',')"
    )


def ours_read(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> None:
    """Read the files to exact nanoseconds."""
    found = read_captures(con, paths, SOURCE, "bench_frames")
    if any(read.problems for read in found.values()):
        raise RuntimeError("a generated capture was refused")


def pandas_loop(paths: Sequence[Path]) -> list[tuple[float, ...]]:
    """Do by hand, file by file, what a person would write."""
    import pandas as pd

    found = []
    for path in paths:
        frame = pd.read_csv(path)["frame_time_ms"]
        slowest = frame.sort_values(ascending=False)
        in_time = slowest[slowest.cumsum() <= frame.sum() / 100]
        found.append(
            (
                1000 / frame.mean(),
                1000 / frame.quantile(0.99),
                1000 / slowest.head(len(frame) // 100).mean(),
                1000 / in_time.mean(),
            )
        )
    return found


def memory_mib(folder: Path) -> float | None:
    """Give the peak memory of a process that computes a folder's metrics; None but on Linux."""
    if not STATUS.is_file():
        return None
    asked = [sys.executable, __file__, "--memory-of", str(folder)]
    done = subprocess.run(asked, check=True, capture_output=True, text=True)
    return float(done.stdout.split()[-1])


def metrics_alone(folder: Path) -> int:
    """Compute the metrics of a folder and print the peak memory of this process in MiB."""
    with duckdb.connect() as con:
        con.execute("set memory_limit = '512MB'")
        metrics_of(con, sorted(folder.glob("*.parquet")))
    # Not getrusage: a process inherits that peak from the one that started it.
    lines = STATUS.read_text(encoding="utf-8").splitlines()
    print(next(int(line.split()[1]) / 1024 for line in lines if line.startswith("VmHWM")))
    return 0


if __name__ == "__main__":
    sys.exit(main())
