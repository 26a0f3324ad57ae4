"""A set's captures: which file belongs to which run, under which hash, and whether its frame times can be read."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.captures.problems import CaptureError
from rigledger.captures.read import read_capture
from rigledger.captures.source import CaptureSource, capture_source
from rigledger.captures.store import describe

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet

_FRAMES = "intake_frames"


def capture_files(con: duckdb.DuckDBPyConnection) -> list[tuple[str, int]]:
    """List the capture files that the runs name, each with the first row that names it."""
    return con.execute(
        "SELECT capture_file, min(_row) FROM handed.runs WHERE capture_file IS NOT NULL GROUP BY ALL ORDER BY ALL"
    ).fetchall()


def declared_source(held: TextSet, log: FindingLog) -> CaptureSource | None:
    """Give the set's declaration of its captures; None where there is none or it is wrong."""
    if not held.manifest.captures:
        return None
    try:
        return capture_source(held.manifest.captures, log.contract)
    except CaptureError as error:
        place = f"captures.{error.column}"
        row = held.manifest.lines.get(place) or held.manifest.lines.get("captures")
        step = error.next_step
        log.add(
            "captures_declaration", error.message, file=held.manifest.file, row=row, column=place, value=error.value,
            next_step=step,
        )  # fmt: skip
        return None


def hash_captures(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    folder: Path,
    study_folder: Path | None,
    log: FindingLog,
) -> None:
    """Create ``handed.captures`` (capture_file, capture, frames, total_ns, state) for the files that can be read."""
    con.execute(
        "CREATE TABLE handed.captures (capture_file VARCHAR, capture VARCHAR, frames BIGINT, total_ns BIGINT, state VARCHAR)"
    )
    source = declared_source(held, log)
    if source is None:
        return
    for file, _ in capture_files(con):
        path = folder / file
        if not path.is_file() or not path.resolve().is_relative_to(folder.resolve()):
            continue
        if read_capture(con, path, source, _FRAMES).problems:
            continue
        stored = describe(con, _FRAMES)
        here = (
            study_folder is not None
            and (study_folder / "captures" / f"{stored.capture}.parquet").is_file()
        )
        row = [
            file,
            stored.capture,
            stored.frames,
            stored.total_ns,
            "here" if here else "elsewhere",
        ]
        con.execute("INSERT INTO handed.captures VALUES (?, ?, ?, ?, ?)", row)
    con.execute(f"DROP TABLE IF EXISTS {_FRAMES}")
