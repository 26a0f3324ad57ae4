"""Holds the captures of a release against their names, and its recomputed values against them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.captures.metrics import frame_metrics
from rigledger.captures.problems import CaptureError
from rigledger.captures.store import CaptureStore
from rigledger.release.outcome import Difference

if TYPE_CHECKING:
    import duckdb

    from rigledger.captures.store import Verified
    from rigledger.contract.model import Contract

_SQL = Path(__file__).parent / "sql"


def recompute(con: duckdb.DuckDBPyConnection, folder: Path, contract: Contract) -> list[Difference]:
    """Read every capture that the release includes, and compute its runs' metrics again.

    Args:
        con: Connection with the source tables of the release.
        folder: The release.
        contract: The contract.

    Returns:
        Captures that are missing or altered, and recomputed values that don't follow from them.
    """
    rows = con.execute(
        "SELECT capture, frames, total_ns FROM captures WHERE state = 'here' ORDER BY capture"
    ).fetchall()
    read = CaptureStore(folder / "captures").verify_all(con, [capture for capture, _, _ in rows])
    found = [
        one
        for capture, frames, total_ns in rows
        for one in _capture_differences(capture, read[capture], (frames, total_ns))
    ]
    if rows and not found:
        found = _value_differences(con, folder, contract)
    return found + _unlisted(folder, {str(row[0]) for row in rows})


def _capture_differences(capture: str, read: Verified, stated: tuple[int, int]) -> list[Difference]:
    if isinstance(read, Exception):
        says = read.message if isinstance(read, CaptureError) else str(read).splitlines()[0]
        return [Difference("altered", f"captures/{capture}.parquet", says)]
    counted = (read.frames, read.total_ns)
    if counted == stated:
        return []
    return [
        Difference(
            "value_differs", "data/captures.csv", "frames or total time are not the capture's",
            f"capture={capture}", None, f"{stated[0]}, {stated[1]}", f"{counted[0]}, {counted[1]}",
        )
    ]  # fmt: skip


def _unlisted(folder: Path, listed: set[str]) -> list[Difference]:
    names = sorted((folder / "captures").glob("*")) if (folder / "captures").is_dir() else []
    return [
        Difference("extra", f"captures/{path.name}", "no row of data/captures.csv names it as here")
        for path in names
        if path.name.removesuffix(".parquet") not in listed
    ]


def _value_differences(
    con: duckdb.DuckDBPyConnection, folder: Path, contract: Contract
) -> list[Difference]:
    windows = (_SQL / "windows.sql").read_text(encoding="utf-8")
    con.execute(
        f"CREATE OR REPLACE TEMP TABLE capture_windows AS {windows}",
        {"folder": (folder / "captures").resolve().as_posix()},
    )
    frame_metrics(con, "capture_windows", tuple(contract.metrics.values()))
    query = (_SQL / "recomputed_differences.sql").read_text(encoding="utf-8")
    rows = con.execute(query).fetchall()
    says = "the value doesn't follow from the capture"
    return [
        Difference("value_differs", "data/measurements.csv", says, key, "value", recorded, found)
        for key, recorded, found in rows
    ]
