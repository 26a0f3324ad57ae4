"""Seeded capture files for the benchmark of captures."""

from __future__ import annotations

import gzip
import os
from typing import TYPE_CHECKING

import duckdb
import pyarrow as pa

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

# A seeded lognormal frame time around 9 ms with a scatter of 25 %.
FRAMES = """
    select cast(exp(16 + 0.25 * sqrt(-2 * ln(u)) * cos(2 * pi() * v)) as bigint) as frame_ns
    from (
        select (hash(i, {seed}) + 1) / 18446744073709551617.0::double as u,
            hash(i, {seed} + 500000) / 18446744073709551616.0::double as v
        from range({frames}) as t (i)
    )
"""


def parquet_files(folder: Path, files: int, frames: int, codec: str = "zstd") -> list[Path]:
    """Write captures in the form of the store."""
    folder.mkdir()
    paths = [folder / f"{number:05}.parquet" for number in range(files)]
    with duckdb.connect() as con:
        for seed, path in enumerate(paths):
            query = FRAMES.format(seed=seed, frames=frames)
            con.execute(f"copy ({query}) to '{path.as_posix()}' (compression {codec})")
    return paths


def csv_files(folder: Path, files: int, frames: int) -> list[Path]:
    """Write captures as a logger would: milliseconds, four decimals, two more columns."""
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


def packed(folder: Path, paths: Sequence[Path], ending: str) -> list[Path]:
    """Pack files with gzip or Zstandard, by the ending."""
    folder.mkdir()
    found = []
    for path in paths:
        data = path.read_bytes()
        found.append(folder / f"{path.name}{ending}")
        zipped = gzip.compress(data, 6) if ending == ".gz" else _zstandard(data)
        found[-1].write_bytes(zipped)
    return found


def _zstandard(data: bytes) -> bytes:
    return bytes(pa.compress(data, codec="zstd", asbytes=True))


def linked(folder: Path, paths: Sequence[Path], times: int) -> list[Path]:
    """Give every file so many names: that much more work on the same disk space."""
    folder.mkdir()
    found = []
    for path in paths:
        for copy in range(times):
            found.append(folder / f"{copy:03}-{path.name}")
            os.link(path, found[-1])
    return found


def listed(paths: Sequence[Path]) -> str:
    """Give the files as a list in SQL."""
    return "[" + ", ".join(f"'{path.as_posix()}'" for path in paths) + "]"
