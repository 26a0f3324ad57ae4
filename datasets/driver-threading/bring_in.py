"""Makes the three result sets of this study from the folders of frame times as they were measured.

    python datasets/driver-threading/bring_in.py MEASURED OUT

MEASURED holds ``rig-a`` and ``rig-c``, each with ``rig.json`` and a folder a session with
``passes.csv`` and ``captures/``. OUT gets one result set of ``rig-a`` and one of ``rig-c`` for
each driver, ready for ``rigledger check`` and ``rigledger admit``. Nothing is measured, guessed or
rounded here: every capture is copied byte for byte after its hash was held against ``passes.csv``,
and what the folders don't say is ``unknown``.
"""

from __future__ import annotations

import argparse
import csv
import hashlib
import io
import json
from pathlib import Path
from typing import Any

from rigledger.errors import RigledgerError
from rigledger.files import write_bytes, write_text

# The passes of one session are 6.6 s long, the others 3.2 s. A scene changes as it runs, so the
# length of the pass is part of the workload: every pass counts with the frames that end within its
# first 3.2 s.
PASSAGE_S = "3.2"

# Sets: the rig, and which of its sessions (None: all). The sessions of rig-c on two drivers are
# handed in apart, as one would who measures again after a driver change.
SETS = {
    "rig-a": ("rig-a", None),
    "rig-c-old-driver": ("rig-c", "stack-1"),
    "rig-c-new-driver": ("rig-c", "stack-2"),
}

# Scenes that the slower rig ran with a reduced load are workloads of their own.
REDUCED = {"tumbling-shards", "streamed-dots"}

SESSION_COLUMNS = (
    "rig", "session", "boot", "round", "started_on", "firmware_version", "driver_version",
    "card_firmware_version", "os", "os_build", "profile", "card_temperature_at_start_degc",
    "seconds_per_pass",
)  # fmt: skip
RUN_COLUMNS = (
    "rig", "session", "run", "workload", "resolution", "level", "pass", "started_at",
    "capture_file",
)  # fmt: skip
RIG_COLUMNS = ("rig", "platform", "card", "platform_unit", "card_unit", "hardware_from")

Row = dict[str, str]


class MeasuredFolderError(RigledgerError, ValueError):
    """The folder of measured captures isn't what it says."""

    code = "measured_folder"


def main() -> None:
    """Make the sets."""
    parser = argparse.ArgumentParser(description="Make this study's result sets.")
    parser.add_argument("measured", type=Path, help="folder with rig-a and rig-c")
    parser.add_argument("out", type=Path, help="folder that gets the result sets")
    asked = parser.parse_args()
    for name, (rig, session) in SETS.items():
        runs = bring_in(asked.measured / rig, asked.out / name, session=session)
        print(f"{name}: {runs} runs")


def bring_in(measured: Path, out: Path, *, session: str | None = None) -> int:
    """Make one result set of one rig.

    Args:
        measured: Folder with rig.json and the sessions.
        out: Folder of the set, named as the set; it must not exist.
        session: The one session that the set holds; None for all.

    Returns:
        Number of runs.

    Raises:
        MeasuredFolderError: A capture's hash is not the one that passes.csv states.
        FileExistsError: The folder of the set exists already.
    """
    out.mkdir(parents=True)
    told = json.loads((measured / "rig.json").read_text(encoding="utf-8"))
    sessions, runs = [], []
    for number, folder in enumerate(session_folders(told), start=1):
        if session not in {None, folder}:
            continue
        passes = _passes(measured / folder)
        sessions.append(session_row(told, folder, number, passes))
        runs += [run_row(told, folder, place, row) for place, row in enumerate(passes, start=1)]
        for row in passes:
            _copy(measured / folder / "captures", out / "captures" / folder, row)
    write_text(out / "result-set.toml", manifest(out.name))
    write_text(out / "rigs.csv", csv_text(RIG_COLUMNS, [rig_row(told)]))
    write_text(out / "sessions.csv", csv_text(SESSION_COLUMNS, sessions))
    write_text(out / "runs.csv", csv_text(RUN_COLUMNS, runs))
    return len(runs)


def session_folders(told: dict[str, Any]) -> list[str]:
    """Name the folders of a rig's sessions in the order in which they were measured."""
    if "stacks" in told:
        return [item["stack"] for item in told["stacks"]]
    return [item["session"] for item in told["sessions"]]


def rig_row(told: dict[str, Any]) -> Row:
    """Give the rig; which physical units it was is not known."""
    letter = told["rig"].removeprefix("rig-")
    card = {"a": "accelerator-a", "c": "software-c"}[letter]
    unknown = ("platform_unit", "card_unit", "hardware_from")
    return {"rig": told["rig"], "platform": f"server-{letter}", "card": card} | dict.fromkeys(
        unknown, "unknown"
    )


def session_row(told: dict[str, Any], folder: str, number: int, passes: list[Row]) -> Row:
    """Give one session; boots and rounds are numbered in the order of measuring."""
    of_stack = {item["stack"]: item for item in told.get("stacks", ())}.get(folder, {})
    of_session = {item["session"]: item for item in told.get("sessions", ())}.get(folder, {})
    temperature = of_session.get("gpu_temperature_at_start_c")
    return {
        "rig": told["rig"],
        "session": folder,
        "boot": str(number),
        "round": str(number),
        "started_on": passes[0]["started_at"][:10],
        "firmware_version": "unknown",
        "driver_version": of_stack.get("driver_version") or told["driver_version"],
        "card_firmware_version": told.get("gpu_firmware_version", "none"),
        "os": "unknown",
        "os_build": told["os_kernel"],
        "profile": "unknown",
        "card_temperature_at_start_degc": "" if temperature is None else str(temperature),
        "seconds_per_pass": str(of_session.get("seconds_a_pass", PASSAGE_S)),
    }


def run_row(told: dict[str, Any], folder: str, place: int, row: Row) -> Row:
    """Give one run, numbered by its place in the session."""
    reduced = "scene_load" in told and row["scene"] in REDUCED
    return {
        "rig": told["rig"],
        "session": folder,
        "run": f"{place:03}",
        "workload": row["scene"] + ("-reduced" if reduced else ""),
        "resolution": row["resolution"],
        "level": row["setting"],
        "pass": row["pass_number"],
        "started_at": row["started_at"],
        "capture_file": f"captures/{folder}/{row['capture_file']}",
    }


def manifest(name: str) -> str:
    """Give the text of result-set.toml."""
    return f"""\
[set]
set = "{name}"
contributor = "house"
shown_name = "The rigledger maintainers"
study = "driver-threading"
licence = "CC-BY-4.0"
consent_version = "1"
utc_offset = "+00:00"

[same_for_all_runs]
title_build = "unknown"
level_state = "unknown"
role = "measured"
capture_from_s = 0
capture_for_s = {PASSAGE_S}

[captures]
frame_time_column = "frame_time_ms"
unit = "ms"
"""


def csv_text(columns: tuple[str, ...], rows: list[Row]) -> str:
    """Give CSV with commas and plain line ends."""
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _passes(folder: Path) -> list[Row]:
    with (folder / "passes.csv").open(encoding="utf-8", newline="") as stream:
        return sorted(csv.DictReader(stream), key=lambda row: row["started_at"])


def _copy(source: Path, target: Path, row: Row) -> None:
    data = (source / row["capture_file"]).read_bytes()
    found = hashlib.sha256(data).hexdigest()
    if found != row["sha256"]:
        raise MeasuredFolderError(
            "the capture is not the one that passes.csv lists",
            file=row["capture_file"],
            column="sha256",
            value=found,
            next_step="fetch the folder of captures again",
        )
    write_bytes(target / row["capture_file"], data)


if __name__ == "__main__":
    main()
