"""What the tests of captures share: a connection, and metrics of frames given in the test."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

import pytest

from rigledger.captures.metrics import frame_metrics
from rigledger.contract import load_contract

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Metric

Window = tuple[str, Sequence[int], float | None, float | None]
Values = dict[tuple[str, str], float]


@pytest.fixture(scope="session")
def metrics() -> tuple[Metric, ...]:
    return tuple(load_contract().metrics.values())


@pytest.fixture
def computed(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, metrics: tuple[Metric, ...]
) -> Callable[..., list[tuple[str, str, float, int, int]]]:
    """Give a function from windows (run, frames, from_s, for_s) to the rows of frame_metrics."""

    def compute(
        *windows: Window, chosen: Sequence[Metric] = metrics, **further: int
    ) -> list[tuple[str, str, float, int, int]]:
        con.execute(
            "create or replace table windows "
            "(run varchar, capture_file varchar, from_s double, for_s double)"
        )
        for run, frames, from_s, for_s in windows:
            path = frames_file(con, tmp_path, frames)
            con.execute("insert into windows values (?, ?, ?, ?)", [run, path, from_s, for_s])
        frame_metrics(con, "windows", chosen, **further)
        return con.execute("from frame_metrics").fetchall()

    return compute


def frames_file(con: duckdb.DuckDBPyConnection, folder: Path, frames: Sequence[int]) -> str:
    path = folder / f"{abs(hash(tuple(frames)))}.parquet"
    con.execute(
        f"copy (select unnest(?::bigint[]) as frame_ns) to '{path.as_posix()}' (format parquet)",
        [list(frames)],
    )
    return path.as_posix()
