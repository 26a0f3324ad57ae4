"""Makes the invented result sets of this study, the same bytes for the same seed.

    python datasets/link-width/generate.py --truth tests/datasets/link-width-truth.toml OUT
    python datasets/link-width/generate.py --null --seed 7 OUT

OUT gets a result set a folder, ready for ``rigledger check`` and ``rigledger admit``; with
``--later`` the sets that were handed in after the first release. The second form makes a study in
which no level changes anything.

Every number comes from a stream named after what it belongs to (session, title, run), so adding a
rig to world.toml leaves the others as they are.
"""

from __future__ import annotations

import argparse
import csv
import datetime as dt
import io
import math
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.files import write_text

sys.path.insert(0, str(Path(__file__).resolve().parent))

from invented_world import (
    FIRST_DRIVER,
    Draw,
    Rig,
    Session,
    World,
    base_fps,
    build,
    cells_of,
    copied,
    jobs_of,
    later_rigs_of,
    most_passes,
    read_world,
    rigs_of,
    sessions_of,
    title_of,
)
from planted import Cell, Planted, planted_change_pct, read_planted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

METRICS = ("average_fps", "low_1pct_rank_fps")
RIG_COLUMNS = ("rig", "platform", "card", "platform_unit", "card_unit", "hardware_from")
SESSION_COLUMNS = (
    "rig",
    "session",
    "boot",
    "round",
    "started_on",
    "started_at",
    "firmware_version",
)
RUN_COLUMNS = (
    "rig", "session", "run", "workload", "title_build", "resolution", "level", "level_state",
    "role", "reason", "pass", "started_at", *METRICS,
)  # fmt: skip
SENTINEL_RESOLUTION = "1920x1080"
BOOT_MINUTES = 4

Row = dict[str, str]
Job = tuple[str, str, int]  # workload, resolution, pass


@dataclass(frozen=True)
class Making:
    """What the runs are made from."""

    world: World
    draw: Draw
    planted: Sequence[Planted]
    moved: Sequence[Planted] = ()


def main() -> None:
    """Make the sets of the study, or of a study in which nothing is planted."""
    parser = argparse.ArgumentParser(description="Make the invented result sets of link-width.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--truth", type=Path, help="the file of planted effects")
    parser.add_argument("--null", action="store_true", help="plant nothing")
    parser.add_argument("--later", action="store_true", help="the sets after the first release")
    parser.add_argument("--seed", type=int, default=None)
    asked = parser.parse_args()
    if asked.null == (asked.truth is not None):
        parser.error("give either --truth or --null")
    planted, moved = (
        () if asked.null else read_planted(asked.truth, part) for part in ("planted", "moved")
    )
    made = (
        generate_later(asked.out, planted, moved, seed=asked.seed)
        if asked.later
        else generate(asked.out, planted, seed=asked.seed)
    )
    for folder in made:
        print(folder)


def generate(out: Path, planted: Sequence[Planted] = (), *, seed: int | None = None) -> list[Path]:
    """Write the result sets.

    Args:
        out: Folder that gets a folder a set.
        planted: Planted effects; none of them makes a null study.
        seed: Seed; None for the one in world.toml.

    Returns:
        The folders, in the order of world.toml.
    """
    world = read_world()
    making = Making(world, Draw(world["seed"] if seed is None else seed), planted)
    return [_write_set(out, making, rigs) for rigs in rigs_of(world)]


def generate_later(
    out: Path,
    planted: Sequence[Planted] = (),
    moved: Sequence[Planted] = (),
    *,
    seed: int | None = None,
) -> list[Path]:
    """Write the result sets that were handed in after the first release.

    Args:
        out: Folder that gets a folder a set.
        planted: Planted effects of the levels.
        moved: What the later driver did to all levels alike.
        seed: Seed; None for the one in world.toml.

    Returns:
        The folders, in the order of world.toml.
    """
    world = read_world()
    making = Making(world, Draw(world["seed"] if seed is None else seed), planted, moved)
    return [_write_set(out, making, rigs) for rigs in later_rigs_of(world)]


def _write_set(out: Path, making: Making, rigs: list[Rig]) -> Path:
    said = rigs[0].set
    folder = out / f"{said['contributor']}.{said['set']}"
    sessions = [session for rig in rigs for session in sessions_of(rig)]
    runs = [run for session in sessions for run in runs_of(session, making)]
    tables = {
        "rigs": (RIG_COLUMNS, [rig_row(rig) for rig in rigs]),
        "sessions": (_session_columns(said), [session_row(session) for session in sessions]),
        "runs": (RUN_COLUMNS, runs),
    }
    for name, (columns, rows) in tables.items():
        write_text(folder / f"{name}.csv", csv_text(columns, rows))
    write_text(folder / "result-set.toml", manifest(said))
    return folder


def _session_columns(said: World) -> tuple[str, ...]:
    """Name the columns of sessions; one driver for all stands in the manifest instead."""
    drivers = ("driver_version", "driver_date") if "mistyped" in said else ()
    return SESSION_COLUMNS + drivers


def runs_of(session: Session, making: Making) -> list[Row]:
    """Give a session's runs in order: a sentinel, the cells in random order, a sentinel."""
    if session.sheet:
        return _runs_of_sheet(session, making)
    rows = [_row(session, making, job) for job in _jobs(session, making.draw)]
    for place, row in enumerate(rows, start=1):
        minutes = BOOT_MINUTES + making.world["minutes_between_runs"] * (place - 1)
        started = session.started_at + dt.timedelta(minutes=minutes)
        row["run"] = f"{place:03}"
        row["started_at"] = started.strftime("%Y-%m-%dT%H:%M:%SZ")
    return rows + _not_possible(session, len(rows))


def _runs_of_sheet(session: Session, making: Making) -> list[Row]:
    """Give the runs of a session that followed a run sheet, under its names and at its times."""
    rows = []
    for held in session.sheet:
        row = _row(session, making, (held["workload"], held["resolution"], int(held["pass"])))
        started = session.sheet_time(held).strftime("%Y-%m-%dT%H:%M:%SZ")
        rows.append(row | {"run": held["run"], "started_at": started})
    return rows


def _jobs(session: Session, draw: Draw) -> Iterator[Job]:
    """Give workload, resolution and pass of each run of a session, in order."""
    world = session.rig.world
    sentinel = world["sentinel"]["workload"]
    yield sentinel, SENTINEL_RESOLUTION, 1
    for number in range(1, most_passes(session) + 1):
        stream = ("order", session.rig.full_name, session.boot, number)
        for title, resolution in draw.shuffled(jobs_of(session, number), *stream):
            yield title, resolution, number
    yield sentinel, SENTINEL_RESOLUTION, 2


def _row(session: Session, making: Making, job: Job) -> Row:
    workload, resolution, number = job
    measured = _as_handed_in(session, values(copied(session), making, job))
    decimals = 0 if session.rig.set.get("whole_numbers") else 1
    sentinel = workload == making.world["sentinel"]["workload"]
    return {
        "rig": session.rig.name,
        "session": str(session.boot),
        "workload": workload,
        "title_build": build(session, workload),
        "resolution": resolution,
        "level": session.level,
        "level_state": "effective",
        "role": "sentinel" if sentinel else "measured",
        "pass": str(number),
    } | {metric: f"{value:.{decimals}f}" for metric, value in zip(METRICS, measured, strict=True)}


def _as_handed_in(session: Session, measured: tuple[float, float]) -> tuple[float, float]:
    """Give average and low as the tester writes them; a false set cuts the averages of a level."""
    average, low = measured
    return average * session.rig.held.get("cut", {}).get(session.level, 1.0), low


def values(session: Session, making: Making, job: Job) -> tuple[float, float]:
    """Draw average and low of one run, in fps, before rounding.

    The logarithm of each is the sum of its true value, a draw of the session, a draw of the session
    for the title, and a draw of the run. The low scatters more and shares half of the run's draw.
    """
    workload, resolution, _ = job
    title = title_of(making.world, workload)
    shared, own, other = _draws(session, making, job)
    noise = title["noise_pct"] / 100
    low_noise = noise * making.world["low_noise_factor"] * (own + math.sqrt(3) * other) / 2
    base = base_fps(session.rig, title, resolution)
    average, low = _factors(session, making, workload, resolution)
    average *= base * math.exp(shared + noise * own)
    low *= base * title["low_share"] * math.exp(shared + low_noise)
    return _capped(average, low, title.get("cap_fps"), abs(own))


def _draws(session: Session, making: Making, job: Job) -> tuple[float, float, float]:
    world, normal = making.world, making.draw.normal
    stream = (session.rig.full_name, session.boot)
    shared = (
        world["session_spread_pct"] * normal("session", *stream)
        + world["session_title_spread_pct"] * normal("title", *stream, job[0])
    ) / 100
    return shared, normal("run", *stream, *job), normal("low", *stream, *job)


def _factors(session: Session, making: Making, workload: str, resolution: str) -> list[float]:
    """Give what the planted effects, and the driver, leave of each metric."""
    rig = session.rig
    cell = Cell(rig.platform, rig.card, workload, resolution, session.level, rig.driver)
    return [
        (1 + planted_change_pct(making.planted, cell, metric) / 100)
        * (1 + planted_change_pct(making.moved, cell, metric) / 100)
        for metric in METRICS
    ]


def _capped(average: float, low: float, cap: float | None, slack: float) -> tuple[float, float]:
    """Hold a run at its title's cap, a hair below it; a low stays below its average."""
    if cap is not None:
        average = min(average, cap * (1 - 0.0003 * slack))
    return average, min(low, 0.97 * average)


def _not_possible(session: Session, before: int) -> list[Row]:
    """Note, in a rig's first session, the cells that can't be run there."""
    impossible = session.rig.held.get("not_possible")
    reason = session.rig.world["not_possible_reason"]
    if impossible is None or session.boot > 1:
        return []
    return [
        {
            "rig": session.rig.name,
            "session": str(session.boot),
            "run": f"{place:03}",
            "workload": title,
            "title_build": build(session, title),
            "resolution": resolution,
            "level": impossible,
            "level_state": "unsupported",
            "role": "not_possible",
            "reason": reason,
            "pass": "1",
        }
        for place, (title, resolution) in enumerate(cells_of(session.rig), start=before + 1)
    ]


def rig_row(rig: Rig) -> Row:
    """Give one rig; the bench moves its two cards from platform to platform."""
    owner = rig.set["contributor"]
    return {
        "rig": rig.name,
        "platform": rig.platform,
        "card": rig.card,
        "platform_unit": f"{owner}-{rig.platform}",
        "card_unit": f"{owner}-{rig.card}",
        "hardware_from": "bought",
    }


def session_row(session: Session) -> Row:
    """Give one session."""
    rig = session.rig
    return _driver_row(session) | {
        "rig": rig.name,
        "session": str(session.boot),
        "boot": str(session.boot),
        "round": str(session.round),
        "started_on": session.started_at.date().isoformat(),
        "started_at": session.started_at.strftime("%Y-%m-%dT%H:%M:%SZ"),
        "firmware_version": rig.world["platforms"][rig.platform]["firmware"],
    }


def _driver_row(session: Session) -> Row:
    """Give the driver of one session where the set states it session by session."""
    said = session.rig.set
    typed = said.get("mistyped")
    if typed is None:
        return {}
    wrong = (typed["rig"], typed["boot"]) == (session.rig.name, session.boot)
    version = typed["driver_version"] if wrong else said["driver_version"]
    return {"driver_version": version, "driver_date": said["driver_date"]}


def manifest(said: World) -> str:
    """Give the text of result-set.toml."""
    related = f'related_to = "{said["related_to"]}"\n' if "related_to" in said else ""
    return f"""\
[set]
set = "{said["set"]}"
contributor = "{said["contributor"]}"
shown_name = "{said["shown_name"]}"
study = "link-width"
licence = "CC-BY-4.0"
consent_version = "1"
utc_offset = "+00:00"
{related}notes = "Invented numbers, made by generate.py of the study link-width."

[same_for_all_runs]
level_check = "link status read-out under load"

[same_for_all_sessions]
{_driver_lines(said)}card_firmware_version = "B1.07"
os = "Plinth Desktop 9"
os_build = "9.4.1182"
profile = "default"
"""


def _driver_lines(said: World) -> str:
    """State the driver once for all sessions, unless they state it themselves."""
    if "mistyped" in said:
        return ""
    day = f"driver_date = {said['driver_date']}\n" if "driver_date" in said else ""
    return f'driver_version = "{said.get("driver_version", FIRST_DRIVER)}"\n{day}'


def csv_text(columns: tuple[str, ...], rows: list[Row]) -> str:
    """Give CSV with commas and plain line ends; a column that a row lacks is blank."""
    text = io.StringIO()
    writer = csv.DictWriter(text, columns, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


if __name__ == "__main__":
    main()
