"""A generated study whose every run has a capture of seeded frames."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from typing import TYPE_CHECKING

from capture_files import FRAMES
from simulated_study import RUNS_A_RIG, study_design, study_source

from rigledger.captures.metrics import frame_metrics

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.design import Design

# One capture in so many is so many times as long as the others: its sums need more than 64 bits.
ONE_IN, TIMES = 96, 20
# Every third run takes a window of its capture, with ends that no binary fraction meets.
CAPTURED = """
create or replace table runs as
select runs.* replace (
    held.capture as capture,
    case when held.nth % 3 = 2 then 2.1 end as capture_from_s,
    case when held.nth % 3 = 2 then 15.7 end as capture_for_s
)
from runs join captured as held using (run)
order by run
"""
WINDOWS = """
create or replace temp table capture_windows as
select run, $folder || '/' || capture || '.parquet' as capture_file,
    capture_from_s as from_s, capture_for_s as for_s
from runs
"""


@dataclass(frozen=True, slots=True)
class CapturedStudy:
    """A study in a connection, and the files of its captures.

    Attributes:
        con: Holds the source tables.
        design: The study's design.
        contract: The contract.
        paths: The captures, as the store keeps them.
        frames: Their frames, all together.
    """

    con: duckdb.DuckDBPyConnection
    design: Design
    contract: Contract
    paths: tuple[Path, ...]
    frames: int

    def recompute(self) -> None:
        """Add the metrics of each run's window of its capture."""
        self.con.execute(WINDOWS, {"folder": self.paths[0].parent.as_posix()})
        frame_metrics(self.con, "capture_windows", tuple(self.contract.metrics.values()))
        self.con.execute(
            "insert into measurements (run, metric, origin, value, frames) "
            "select run, metric, 'recomputed', value, frames from frame_metrics"
        )


def captured_study(folder: Path, contract: Contract, rigs: int, frames: int) -> CapturedStudy:
    """Generate a study.

    Args:
        folder: Folder of the captures; it is not there yet.
        contract: The contract.
        rigs: Rigs, of 192 runs each.
        frames: Frames of most captures; one in 96 has 20 times as many.
    """
    folder.mkdir()
    design = study_design()
    con = study_source(design, contract, rigs * RUNS_A_RIG)
    names = [str(row[0]) for row in con.execute("select run from runs order by run").fetchall()]
    lengths = [frames * (1 if seed % ONE_IN else TIMES) for seed in range(len(names))]
    paths = tuple(_capture(con, folder, seed, length) for seed, length in enumerate(lengths))
    con.execute(
        "create temp table captured as select unnest($1) as run, unnest($2) as capture, "
        "unnest($3::bigint[]) as frames, unnest(range(len($1))) as nth",
        [names, [path.stem for path in paths], lengths],
    )
    con.execute(CAPTURED)
    con.execute(
        "insert into captures select capture, frames, frames * 9000000, 'here' from captured"
    )
    return CapturedStudy(con, design, contract, paths, sum(lengths))


def _capture(con: duckdb.DuckDBPyConnection, folder: Path, seed: int, frames: int) -> Path:
    path = folder / f"{sha256(str(seed).encode()).hexdigest()}.parquet"
    query = FRAMES.format(seed=seed, frames=frames)
    con.execute(f"copy ({query}) to '{path.as_posix()}' (compression zstd)")
    return path
