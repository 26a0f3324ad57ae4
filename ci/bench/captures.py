"""Captures at scale: metrics against a bare sum, reading against DuckDB's typed scan and pandas.

    python ci/bench/captures.py            10^8 frames in Parquet, 10^7 in 1,000 CSV files
    python ci/bench/captures.py --quick    a tenth of the one, three tenths of the other
    python ci/bench/captures.py --only csv --json out.json

All ratios are of the same run on the same files; the two sides of a ratio take turns, and the best
time of each counts. Where both sides use all threads, the ratio of their processor times is held to
the bound and that of the wall clock printed beside it, which on a busy machine says little. The
pandas loop uses one thread, so there the wall clock counts, unless the machine is busy.

Bounds: all metrics of the contract within 2.5 times `select sum(frame_ns)`, below 1 GiB of memory;
reading CSV within 1.25 times DuckDB's own typed scan, and read and reduced at least 5 times as fast
as a pandas loop; three times the frames within 3.6 times the time. Exits 1 when a figure falls
short. Printed without a bound are captures packed otherwise than the store packs them (to add what
is not packed, next to nothing is decoded) and 100,000 CSV files of a hundred frames, which take as
long to open as to read. Memory is that of a process of its own, as Linux states it. Files are
written into a temporary folder (about 1 GB) and deleted at the end.
"""

from __future__ import annotations

import argparse
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import numpy as np
from capture_files import csv_files, linked, packed, parquet_files
from capture_ways import (
    OTHER_METRICS,
    OTHER_READS,
    TestersInstall,
    bare_sum,
    pandas_loop,
    typed_scan,
)
from results import Figure, Results, Spent, best, options

from rigledger.captures.batch import read_captures
from rigledger.captures.metrics import frame_metrics
from rigledger.captures.source import CaptureSource
from rigledger.captures.store import describe_all
from rigledger.contract import load_contract

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_TIMES_SUM, MOST_TIMES_SCAN, LEAST_TIMES_PANDAS = 2.5, 1.25, 5.0
ALONE = 0.95
MOST_GROWTH, MOST_MEMORY_MIB = 3.6, 1024.0
PARTS = ("csv", "parquet", "small", "packed")
STATUS = Path("/proc/self/status")
SOURCE = CaptureSource("frame_time_ms", 6)
METRICS = tuple(load_contract().metrics.values())


@dataclass
class Figures:
    """Figures beside their bounds, printed as they come."""

    results: Results

    def add(self, figure: Figure) -> None:
        """Print a figure beside its bound."""
        asked = "" if figure.most is None else f"<= {figure.most:g}"
        asked = asked if figure.least is None else f">= {figure.least:g}"
        good = self.results.keep(figure)
        mark = ("ok" if good else "SHORT") if asked else ""
        print(
            f"  {figure.name:58} {figure.value:9.3f}  {asked:8} {mark:6} {figure.note}", flush=True
        )

    def ratio(self, name: str, ours: Spent, floor: Spent, bound: float | None = None) -> None:
        """Print the ratio of two processor times, with that of the wall clock beside it."""
        value, beside = ours.processor / floor.processor, f"wall {ours.wall / floor.wall:.2f}"
        self.add(Figure(name, value, "x", bound, beside))

    def pandas(self, name: str, by_hand: Spent, ours: Spent) -> None:
        """Print how many times as long a loop takes that has one thread, where ours has two.

        It is the wall clock that counts, while it can: as long as the loop never waits for a
        processor. Where it does, ours waits for its second one most of the time, and the ratio of
        the clock says what else the machine does. Then half of what is asked of two processors
        is asked of the ratio of processor times.
        """
        clock, times = by_hand.wall / ours.wall, by_hand.processor / ours.processor
        if by_hand.processor > ALONE * by_hand.wall:
            beside = f"processor {times:.2f}"
            self.add(Figure(name, clock, "x", note=beside, least=LEAST_TIMES_PANDAS))
        else:
            self.add(Figure(name, clock, "x", note="the machine is busy: not judged"))
            name, least = f"{name}, processor time", LEAST_TIMES_PANDAS / 2
            self.add(Figure(name, times, "x", least=least))


def main() -> int:
    """Run the benchmark."""
    parser = options(__doc__, "fewer files, and not every way")
    parser.add_argument("--only", choices=PARTS, nargs="+", default=PARTS)
    parser.add_argument("--memory-of", type=Path, default=None, help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.memory_of:
        return metrics_alone(asked.memory_of)
    results = Results("captures", asked.quick)
    with tempfile.TemporaryDirectory() as folder:
        measure(Path(folder), Figures(results), asked.only, quick=asked.quick)
    print("\nall figures within their bounds" if not results.short else f"\nshort: {results.short}")
    return results.close(asked.json)


def measure(folder: Path, figures: Figures, parts: Sequence[str], *, quick: bool) -> None:
    """Measure some parts; quickly with fewer files and without what takes long."""
    if "csv" in parts:
        csv_figures(folder, figures, files=300 if quick else 1000, quick=quick)
    if "parquet" in parts:
        parquet_figures(folder, figures, files=100 if quick else 1000, quick=quick)
    if "small" in parts and not quick:
        small_figures(folder, figures)
    if "packed" in parts and not quick:
        packed_figures(folder, figures)


def parquet_figures(folder: Path, figures: Figures, *, files: int, quick: bool) -> None:
    """Measure the metrics over stored captures, and other ways to compute some of them."""
    print(f"\n{files * 1e5:.0e} frames in {files} Parquet files, to select sum(frame_ns)")
    paths = parquet_files(folder / "parquet", files, 100_000)
    con = duckdb.connect()
    floor, ours = best(lambda: bare_sum(con, paths), lambda: metrics_of(con, paths), times=4)
    figures.add(Figure("bare sum, s of the wall clock", floor.wall, "s"))
    figures.ratio("all metrics of the contract", ours, floor, MOST_TIMES_SUM)
    for name, way in OTHER_METRICS.items():
        if not (quick and way.__name__ == "sorted_whole"):
            figures.ratio(name, best(partial(way, con, paths), times=1)[0], floor)
    thrice = linked(folder / "thrice", paths, 3)
    once, three, summed, summed_three = best(
        lambda: metrics_of(con, paths),
        lambda: metrics_of(con, thrice),
        lambda: bare_sum(con, paths),
        lambda: bare_sum(con, thrice),
        times=1 if quick else 2,
    )
    con.close()
    figures.ratio("three times the frames, bare sum", summed_three, summed)
    figures.ratio("three times the frames, all metrics", three, once, MOST_GROWTH)
    for name in ("parquet",) if quick else ("parquet", "thrice"):
        memory = memory_mib(folder / name)
        if memory is not None:
            text = f"peak memory of the process, MiB, {name}"
            figures.add(Figure(text, memory, "MiB", MOST_MEMORY_MIB))


def csv_figures(folder: Path, figures: Figures, *, files: int, quick: bool) -> None:
    """Measure reading CSV captures, and reading and reducing them against pandas."""
    print(f"\n{files * 1e4:.0e} frames in {files} CSV files")
    paths = csv_files(folder / "csv", files, 10_000)
    con = duckdb.connect()
    scan, read, whole, by_hand = best(
        lambda: typed_scan(con, paths),
        lambda: ours_read(con, paths),
        lambda: (ours_read(con, paths), metrics_of(con, paths, frames="bench_frames")),
        lambda: pandas_loop(paths),
        times=3,
    )
    figures.add(Figure("DuckDB's own typed scan into a table, s", scan.wall, "s"))
    figures.ratio("read to exact nanoseconds, to that scan", read, scan, MOST_TIMES_SCAN)
    figures.pandas("pandas loop, to reading and reducing here", by_hand, whole)
    refuse_other_figures(con, paths[:20])
    hashed = best(lambda: describe_all(con, "bench_frames"), times=2)[0]
    figures.ratio("hash of every capture, to that scan", hashed, scan)
    tester_figures(con, paths, figures, scan, by_hand)
    for way, work in () if quick else OTHER_READS.items():
        figures.ratio(way, best(partial(work, con, paths), times=1)[0], scan)
    con.close()


def refuse_other_figures(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> None:
    """Stop where the loop comes to other figures than those that it is timed against."""
    here = con.execute(
        "select list(value order by metric) from frame_metrics "
        "where run in (select unnest($1)) group by run order by run",
        [[path.as_posix() for path in paths]],
    ).fetchall()
    np.testing.assert_allclose([values for (values,) in here], pandas_loop(paths), rtol=1e-9)


def tester_figures(
    con: duckdb.DuckDBPyConnection,
    paths: Sequence[Path],
    figures: Figures,
    scan: Spent,
    by_hand: Spent,
) -> None:
    """Measure the same without Arrow."""
    with TestersInstall():
        read, hashed = best(
            lambda: ours_read(con, paths), lambda: describe_all(con, "bench_frames"), times=2
        )
        reduced = best(lambda: metrics_of(con, paths, frames="bench_frames"), times=2)[0]
    figures.ratio("tester's install: read, to that scan", read, scan)
    name = "tester's install: pandas loop, to read and reduced"
    figures.add(Figure(name, by_hand.wall / (read.wall + reduced.wall), "x"))
    figures.ratio("tester's install: hash of every capture, to that scan", hashed, scan)


def small_figures(folder: Path, figures: Figures) -> None:
    """Measure very many small files, each kind against its floor."""
    print("\n1e+05 files: 1e+08 frames in Parquet, 1e+07 in CSV")
    some = parquet_files(folder / "small", 1000, 1000)
    paths = linked(folder / "many", some, 100)
    con = duckdb.connect()
    floor, ours = best(lambda: bare_sum(con, paths), lambda: metrics_of(con, paths), times=1)
    figures.add(Figure("bare sum, s, 1e+05 files", floor.wall, "s"))
    figures.ratio("all metrics of the contract, 1e+05 files", ours, floor, MOST_TIMES_SUM)
    memory = memory_mib(folder / "many")
    if memory is not None:
        text = "peak memory of the process, MiB, many"
        figures.add(Figure(text, memory, "MiB", MOST_MEMORY_MIB))
    texts = linked(folder / "many-csv", csv_files(folder / "small-csv", 1000, 100), 100)
    scan, read = best(lambda: typed_scan(con, texts), lambda: ours_read(con, texts), times=1)
    con.close()
    figures.ratio("read 1e+05 CSV files, to the typed scan", read, scan)


def packed_figures(folder: Path, figures: Figures) -> None:
    """Measure packed files of each kind against the same floor over the same files."""
    print("\npacked files")
    con = duckdb.connect()
    texts = csv_files(folder / "unpacked", 400, 10_000)
    for ending in (".gz", ".zst"):
        paths = packed(folder / f"csv{ending}", texts, ending)
        scan, read = best(partial(typed_scan, con, paths), partial(ours_read, con, paths), times=3)
        name = f"read .csv{ending}, to DuckDB's typed scan of it"
        figures.ratio(name, read, scan, MOST_TIMES_SCAN)
    for codec in ("uncompressed", "snappy", "gzip"):
        paths = parquet_files(folder / codec, 100, 100_000, codec)
        floor, ours = best(partial(bare_sum, con, paths), partial(metrics_of, con, paths), times=4)
        figures.ratio(f"all metrics, Parquet {codec}, to its bare sum", ours, floor)
    con.close()


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


def ours_read(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> None:
    """Read the files to exact nanoseconds."""
    found = read_captures(con, paths, SOURCE, "bench_frames")
    if any(read.problems or read.remarks for read in found.values()):
        raise RuntimeError("a generated capture was refused")


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
