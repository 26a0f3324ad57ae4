"""Makes an invented week of measuring, day by day: what the page "a working day" goes through.

    python datasets/link-width/week.py --truth tests/datasets/link-width-truth.toml OUT

OUT gets ``week/study.toml``, a small part of this study, and ``measured/``: the tester's folder as
it was on the evening of each day, rows that wait still blank, and the cells measured again.
"""

from __future__ import annotations

import argparse
import datetime as dt
import sys
import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.files import write_text

sys.path.insert(0, str(Path(__file__).resolve().parent))

from generate import (
    METRICS,
    RIG_COLUMNS,
    RUN_COLUMNS,
    SESSION_COLUMNS,
    Making,
    csv_text,
    manifest,
    rig_row,
    runs_of,
    session_row,
)
from invented_world import HERE, Draw, Rig, Session, read_world, sessions_of
from planted import read_planted

if TYPE_CHECKING:
    from collections.abc import Sequence

    from planted import Planted

Row = dict[str, str]
TITLES = ("vostrel-marsh", "thrumgate-88", "saltcress-rally", "kippereen-deep")
RIGS = (
    ("q1", "brankelo-94"), ("q1", "brankelo-52"), ("q3", "brankelo-94"), ("q3", "brankelo-52"),
)  # fmt: skip
RESOLUTIONS, LEVELS = ("1920x1080", "2560x1440"), ("x16", "x8")
MONDAY = dt.date(2026, 11, 2)
# Boots of each rig that are done by the evening.
EVENINGS = {
    "monday": {"q1-94": 2, "q1-52": 2},
    "tuesday": {"q1-94": 2, "q1-52": 2, "q3-94": 2, "q3-52": 1},
    "wednesday": {"q1-94": 2, "q1-52": 2, "q3-94": 2, "q3-52": 2},
}
PASSES_BY_ROUND = [3]
WEDNESDAY = dt.timedelta(days=2)
# A download in the background, once; and a stutter that comes again whenever the cell is run.
ODD = ("q1-52", "saltcress-rally", "1920x1080", "x16")
STUTTERS = ("q3-52", "kippereen-deep", "2560x1440", "x8")
AGAIN = (ODD, STUTTERS)


def main() -> None:
    """Make the week."""
    parser = argparse.ArgumentParser(description="Make an invented week of measuring.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--truth", type=Path, required=True, help="the file of planted effects")
    asked = parser.parse_args()
    make_week(asked.out, read_planted(asked.truth))


def make_week(out: Path, planted: Sequence[Planted]) -> None:
    """Write the study and the tester's folder of each evening.

    Args:
        out: Folder to write to.
        planted: Planted effects.
    """
    write_text(out / "week" / "study.toml", study_text())
    world = _world()
    making = Making(world, Draw(world["seed"] + 1), planted)
    rigs = [
        Rig(world, world["sets"][0], held, MONDAY + dt.timedelta(days=place // 2))
        for place, held in enumerate(world["sets"][0]["rigs"])
    ]
    for evening, done in EVENINGS.items():
        _write(out / "measured" / evening, rigs, making, done)
    _write_again(out / "measured" / "again", rigs, making)


def study_text() -> str:
    """Give the study's design: this one's, with fewer titles, rigs, resolutions and levels."""
    held: dict[str, Any] = tomllib.loads((HERE / "study.toml").read_text(encoding="utf-8"))
    held["study"] |= {
        "study": "link-week", "title": "Eight lanes instead of sixteen: a week",
        "rounds_planned": len(PASSES_BY_ROUND), "rounds_may_be_added": 1,
    }  # fmt: skip
    kept = {
        "levels": ("level", LEVELS), "contrasts": ("to_level", LEVELS[1:]),
        "platforms": ("platform", [platform for platform, _ in RIGS]),
        "workloads": ("workload", (*TITLES, "sentinel-sphere")),
    }  # fmt: skip
    for part, (key, names) in kept.items():
        held[part] = [row for row in held[part] if row[key] in names]
    held["plan"] = [{"resolutions": list(RESOLUTIONS), "levels": list(LEVELS)}]
    return "# Made by week.py from the study link-width; invented.\n" + tomli_w.dumps(held)


def _world() -> dict[str, Any]:
    world = read_world()
    world["titles"] = {name: world["titles"][name] for name in TITLES}
    world |= {"patched": [], "passes_by_round": PASSES_BY_ROUND}
    for card in world["cards"].values():
        card |= {"levels": list(LEVELS), "resolutions": list(RESOLUTIONS)}
    rigs = [{"platform": platform, "card": card} for platform, card in RIGS]
    own = {"set": "week", "contributor": "bench", "shown_name": "The bench", "rigs": rigs}
    return world | {"sets": [own]}


def _write(folder: Path, rigs: Sequence[Rig], making: Making, done: dict[str, int]) -> None:
    """Write the tester's folder; runs of boots that are not done have no values yet."""
    sessions = [session for rig in rigs for session in sessions_of(rig)]
    runs = [
        row if session.boot <= done.get(session.rig.name, 0) else _waiting(row)
        for session in sessions
        for row in measured_runs(session, making)
    ]
    _write_set(folder, rigs, sessions, runs)


def measured_runs(session: Session, making: Making, *, again: bool = False) -> list[Row]:
    """Give a session's runs as measured, the oddities of two cells among them."""
    rows = runs_of(session, making)
    for row in rows:
        place = (row["rig"], row["workload"], row["resolution"], row["level"])
        download = place == ODD and row["pass"] == "2" and not again  # noqa: S105 - the second pass
        if download or (place == STUTTERS and row["pass"] == "1"):  # noqa: S105 - the first
            row.update({name: f"{0.79 * float(row[name]):.1f}" for name in METRICS})
    return rows


def _waiting(row: Row) -> Row:
    return row | dict.fromkeys((*METRICS, "started_at"), "")


def _write_again(folder: Path, rigs: Sequence[Rig], making: Making) -> None:
    """Write the further round: the odd cells at both levels, in sessions of their own."""
    wanted = {(rig, workload, resolution) for rig, workload, resolution, _ in AGAIN}
    concerned = [rig for rig in rigs if any(rig.name == place[0] for place in wanted)]
    sessions, runs = [], []
    for held in concerned:
        rig = Rig(held.world, held.set, held.held | {"boots_before": 2}, MONDAY + WEDNESDAY)
        for boot, level in enumerate(LEVELS, start=3):
            sessions.append(Session(rig, boot, 2, level))
            like_first = Session(rig, boot, 1, level)
            rows = measured_runs(like_first, making, again=True)
            runs += [row for row in rows if _wanted(row, wanted)]
    said = {"set": "again", "contributor": "bench", "shown_name": "The bench"}
    _write_set(folder, concerned, sessions, runs, said)


def _wanted(row: Row, wanted: set[tuple[str, str, str]]) -> bool:
    place = (row["rig"], row["workload"], row["resolution"])
    return row["role"] == "sentinel" or place in wanted


def _write_set(
    folder: Path,
    rigs: Sequence[Rig],
    sessions: Sequence[Session],
    runs: list[Row],
    said: dict[str, Any] | None = None,
) -> None:
    said = said or rigs[0].set
    tables = {
        "rigs": (RIG_COLUMNS, [rig_row(rig) for rig in rigs]),
        "sessions": (SESSION_COLUMNS, [session_row(session) for session in sessions]),
        "runs": (RUN_COLUMNS, runs),
    }
    for name, (columns, rows) in tables.items():
        write_text(folder / f"{name}.csv", csv_text(columns, rows))
    text = manifest(said).replace('study = "link-width"', 'study = "link-week"')
    write_text(folder / "result-set.toml", text)


if __name__ == "__main__":
    main()
