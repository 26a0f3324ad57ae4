"""Holds what was reported against what the captures give."""

from __future__ import annotations

from importlib.resources import files
from typing import TYPE_CHECKING

from rigledger.captures.metrics import frame_metrics
from rigledger.intake.captures import FRAMES, CaptureReader, without_captures
from rigledger.intake.copied import find_copied_captures
from rigledger.intake.limits import limit
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from rigledger.intake.found import Found
    from rigledger.intake.handover import Leaving
    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet
    from rigledger.side import Side

_QUERIES = (
    "capture_disagrees",
    "capture_length_differs",
    "window_outside_capture",
    "capture_twice",
)
_NO_FRAMES = (
    "CREATE TABLE handed.run_frames (_row BIGINT, metric VARCHAR, value DOUBLE, frames BIGINT,"
    " seconds DOUBLE)"
)
_FRAMES_OF_RUNS = (
    "INSERT INTO handed.run_frames SELECT CAST(run AS BIGINT), metric, value, frames,"
    " covered_ns / 1e9 FROM frame_metrics"
)


def measure_captures(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    folder: Path,
    names: Sequence[str],
    log: FindingLog,
    *,
    side: Side,
    captures: bool,
    leaving: Leaving | None = None,
) -> bool:
    """Read the captures that runs name and compute their metrics, before the rules run.

    ``handed.run_frames`` is there afterwards in any case: a row a run and metric, with the frames
    and seconds of the run's window. ``handed.captures`` is there too, and ``admitted.captures`` has
    those of them that other sets hold.

    Args:
        con: The locked database, with ``handed.*`` and ``admitted.*``.
        held: The set.
        folder: The set's folder.
        names: Its files.
        log: Takes the findings.
        side: Takes work that can be done beside other work.
        captures: Whether frame times are read at all.
        leaving: Takes the captures for the set's admission, where that is to follow.

    Returns:
        Whether any capture was read.
    """
    con.execute(_NO_FRAMES)
    reader = CaptureReader(con, held, folder, names, log) if "runs" in held.tables else None
    read = captures and reader is not None and reader.read()
    without_captures(con)
    if not read or reader is None or reader.source is None:
        return False
    if leaving is not None:
        leaving.take(side, reader.source, reader.stored)
    find_copied_captures(con)
    con.execute(
        "CREATE OR REPLACE TEMP VIEW capture_windows AS SELECT CAST(r._row AS VARCHAR) AS run,"
        " p.path AS capture_file, r.capture_from_s AS from_s, r.capture_for_s AS for_s"
        " FROM handed.runs AS r JOIN handed.captures AS c USING (capture_file)"
        " JOIN capture_paths AS p USING (capture_file)"
    )
    metrics = tuple(log.contract.metrics.values())
    frame_metrics(con, "capture_windows", metrics, frames=FRAMES)
    if leaving is not None:
        leaving.take_metrics(con, metrics)
    con.execute(_FRAMES_OF_RUNS)
    return True


def compare_captures(
    con: duckdb.DuckDBPyConnection, held: TextSet, found: Found, log: FindingLog, *, passages: bool
) -> None:
    """Hold reported values, durations and windows against the captures that were read.

    Args:
        con: The database after `measure_captures` has read a capture.
        held: The set.
        found: The cells that a finding stands at already; they get no further one.
        log: Takes the findings.
        passages: Whether ``study.workloads`` is there and says how long the passages are.
    """
    stated = "study.workloads" if passages else "(SELECT NULL AS workload, NULL AS seconds)"
    length = "passage_length_s" if passages else "seconds"
    con.execute(
        "CREATE OR REPLACE TEMP VIEW capture_lengths AS SELECT r._row, r.capture_file, r.duration_s"
        f", coalesce(r.duration_s, w.{length}) AS expected_s FROM handed.runs AS r"
        f" LEFT JOIN {stated} AS w USING (workload)"
        " WHERE r.capture_for_s IS NULL AND r.capture_from_s IS NULL"
    )
    for rule in _QUERIES:
        _add(con, rule, held, found, log)


def _add(
    con: duckdb.DuckDBPyConnection, rule: str, held: TextSet, found: Found, log: FindingLog
) -> None:
    place = files("rigledger.intake").joinpath("sql", "captures", f"{rule}.sql")
    query = place.read_text(encoding="utf-8")
    limits = {
        name: limit(f"captures.{name}")
        for name in ("disagreement_pct", "length_pct")
        if f"${name}" in query
    }
    for row, column, value, detail in con.execute(query, limits).fetchall():
        if not found.stands_at("runs", row, column):
            shown = excerpt(value)
            file = held.tables["runs"].file
            log.add(rule, detail, file=file, row=row, column=column, value=shown)
