"""The same tables from DuckDB and from Spark, compared cell by cell as a release prints them.

    python ci/bench/spark.py            both studies of datasets/, and 10^7 generated frames
    python ci/bench/spark.py --quick    some tables of one study, metrics of 4 x 10^5 frames
    python ci/bench/spark.py --json FILE    keep the figures

Spark runs on this machine alone, with two threads, over partitioned Parquet that was written
before. Where a study has captures, Spark is given no metrics of theirs: it computes them from the
frames. Exits 1 when a single cell differs, 2 when Spark isn't there. The times are of the wall
clock, without what a session of Spark takes to start.
"""

from __future__ import annotations

import shutil
import sys
import tempfile
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from results import Figure, Results, asked
from spark_study import captured_study

from rigledger.claims.read import read_claims
from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.errors import MissingExtraError
from rigledger.study.layout import StudyFolder
from rigledger.study.load import load_source
from rigledger.tables.build import DERIVED_TABLES, build_tables

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from typing import TypeVar

    import duckdb
    from pyspark.sql import SparkSession

    from rigledger.claims.model import Claim
    from rigledger.spark.compare import Compared
    from rigledger.spark.partitioned import Hub
    from rigledger.study.design import Design

    T = TypeVar("T")

DATASETS = Path(__file__).parents[2] / "datasets"
STUDIES = ("driver-threading", "link-width")
MANY_FRAMES = 5_000_000
QUICK_TABLES = ("run_metrics", "cells", "comparisons", "overall")


@dataclass
class Case:
    """A study in DuckDB and as partitioned Parquet, and how long its tables take."""

    name: str
    con: duckdb.DuckDBPyConnection
    design: Design
    hub: Hub
    claims: Sequence[Claim] = ()
    tables: Sequence[str] = DERIVED_TABLES
    seconds: dict[str, float] = field(default_factory=dict)
    small: bool = True


def main() -> int:
    """Print the comparison; 1 where a cell differs, 2 without Spark."""
    given = asked(__doc__, "some tables of one study, and fewer frames")
    results = Results("spark", given.quick)
    from rigledger.spark.session import local_session, require_spark, sized

    try:
        require_spark()
    except MissingExtraError as error:
        print(error)
        return 2
    with tempfile.TemporaryDirectory(ignore_cleanup_errors=True) as name:
        folder = Path(name)
        spark, started = _timed(lambda: local_session(folder))
        print(f"Spark {spark.version}, started in {started:.1f} s")
        try:
            found: list[Compared] = []
            for case in _cases(folder, quick=given.quick):
                sized(spark, small=case.small)
                found += _compared(results, spark, case, folder)
        finally:
            spark.stop()
    cells, differing = sum(held.cells for held in found), sum(held.differing for held in found)
    print(f"\n{cells} cells compared, {differing or 'none'} of them different")
    results.keep(Figure("cells that differ", differing, "count", 0))
    results.report("count", {"cells compared": cells})
    return results.close(given.json)


def _cases(folder: Path, *, quick: bool) -> Iterable[Case]:
    for name in STUDIES[:1] if quick else STUDIES:
        yield _study(name, folder / name, QUICK_TABLES if quick else DERIVED_TABLES)
    rigs, frames = (1, 1_800) if quick else (5, 8_700)
    yield _frames(folder / "frames", rigs, frames, ["run_metrics"] if quick else DERIVED_TABLES)


def _study(name: str, folder: Path, tables: Sequence[str]) -> Case:
    """Copy a study of datasets/ and build its tables."""
    shutil.copytree(DATASETS / name, folder / "study")
    study, contract, con = StudyFolder(folder / "study"), load_contract(), connect(threads=2)
    design, loaded = _timed(lambda: load_source(study, con, contract))
    claims = read_claims(study.claims, design, contract)
    _, built = _timed(lambda: build_tables(con, design, contract, tables=tables, claims=claims))
    hub = _hub(folder, con, study.captures.glob("*.parquet"))
    times = {"DuckDB": built, "reading the sets before": loaded}
    return Case(name, con, design, hub, claims, tables, times)


def _frames(folder: Path, rigs: int, frames: int, tables: Sequence[str]) -> Case:
    """Generate a study whose every run has a capture, and build its tables."""
    folder.mkdir()
    held = captured_study(folder / "captures", load_contract(), rigs, frames)
    con, design = held.con, held.design
    _, metrics = _timed(held.recompute)
    _, seconds = _timed(lambda: build_tables(con, design, load_contract(), tables=tables))
    hub = _hub(folder, con, held.paths)
    name = f"{held.frames:.2g} frames of {len(held.paths)} captures"
    times = {"DuckDB": metrics + seconds, "DuckDB, frames alone": metrics}
    small = held.frames < MANY_FRAMES
    return Case(name, con, design, hub, tables=tables, seconds=times, small=small)


def _hub(folder: Path, con: duckdb.DuckDBPyConnection, captures: Iterable[Path]) -> Hub:
    from rigledger.spark.partitioned import Hub

    hub = Hub(folder / "hub", load_contract())
    hub.write_tables(con)
    paths = list(captures)
    if paths:
        hub.write_frames(con, paths)
    return hub


def _compared(results: Results, spark: SparkSession, case: Case, folder: Path) -> list[Compared]:
    """Build a case's tables on Spark, and print what differs and the times."""
    from rigledger.spark.build import build_tables_on_spark
    from rigledger.spark.compare import compare_tables

    made = folder / f"{case.hub.folder.parent.name}-made"
    con, seconds = _timed(
        lambda: build_tables_on_spark(
            spark, case.hub, case.design, made, tables=case.tables, claims=case.claims
        )
    )
    print(f"\n{case.name}")
    wide = (case.hub.contract.wide("derived", name) for name in case.tables)
    found = [compare_tables(case.con, con, table) for table in wide]
    for table in found:
        _print_table(table)
    times = case.seconds | {"Spark": seconds}
    results.report("s", {f"{case.name}: {name}": spent for name, spent in times.items()})
    print("  " + ", ".join(f"{name} {spent:.1f} s" for name, spent in times.items()), flush=True)
    return found


def _print_table(table: Compared) -> None:
    print(
        f"  {table.table:16} {table.rows:7} rows {table.cells:9} cells {table.differing:7} differ"
    )
    for example in table.examples:
        print(f"    {example}")


def _timed(action: Callable[[], T]) -> tuple[T, float]:
    start = time.perf_counter()
    found = action()
    return found, time.perf_counter() - start


if __name__ == "__main__":
    sys.exit(main())
