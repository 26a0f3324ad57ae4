"""Holds what was reported against what the captures give."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from rigledger.captures.metrics import frame_metrics
from rigledger.intake.captures import FRAMES, CaptureReader
from rigledger.intake.limits import limit
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet

_QUERIES = (
    "capture_disagrees",
    "capture_length_differs",
    "window_outside_capture",
    "capture_twice",
)


def check_captures(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    folder: Path,
    names: Sequence[str],
    log: FindingLog,
) -> None:
    """Read the captures that runs name, compute their metrics, and compare.

    Args:
        con: The locked database, with ``handed.*``.
        held: The set.
        folder: The set's folder.
        names: Its files.
        log: Takes the findings.
    """
    if "runs" not in held.tables:
        return
    reader = CaptureReader(con, held, folder, names, log)
    if not reader.read():
        return
    con.execute(
        "CREATE OR REPLACE TEMP VIEW capture_windows AS SELECT CAST(r._row AS VARCHAR) AS run,"
        " p.path AS capture_file, r.capture_from_s AS from_s, r.capture_for_s AS for_s"
        " FROM handed.runs AS r JOIN handed.captures AS c USING (capture_file)"
        " JOIN capture_paths AS p USING (capture_file)"
    )
    frame_metrics(con, "capture_windows", tuple(log.contract.metrics.values()), frames=FRAMES)
    for rule in _QUERIES:
        _add(con, rule, held, log)


def _add(con: duckdb.DuckDBPyConnection, rule: str, held: TextSet, log: FindingLog) -> None:
    place = files("rigledger.intake").joinpath("sql", "captures", f"{rule}.sql")
    query = place.read_text(encoding="utf-8")
    limits = {
        name: limit(f"captures.{name}")
        for name in ("disagreement_pct", "length_pct")
        if f"${name}" in query
    }
    for row, column, value, detail in con.execute(query, limits).fetchall():
        shown = excerpt(value)
        file = held.tables["runs"].file
        log.add(rule, detail, file=file, row=row, column=column, value=shown)
