"""The demonstration studies grow as their history.toml says; what the later sets hold."""

from __future__ import annotations

import csv
import itertools
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.files import files_below
from rigledger.intake.check import check_set
from rigledger.study.corrections import read_corrections
from rigledger.study.decisions import read_decisions

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path
    from types import ModuleType

    History = Callable[[str], list[dict[str, Any]]]


def rows_of(path: Path) -> list[dict[str, str]]:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def named(steps: list[dict[str, Any]]) -> list[str]:
    return [name for step in steps for key in ("admit", "return") for name in step.get(key, ())]


@pytest.mark.parametrize("study", ["link-width", "driver-threading"])
def test_a_history_names_every_set_once_and_days_never_go_back(
    datasets: Path, history: History, study: str
) -> None:
    folders = [
        path.parent.name
        for part in ("sets", "later")
        for path in (datasets / study / part).glob("*/result-set.toml")
    ]
    assert sorted(named(history(study))) == sorted(folders)
    days = [day for step in history(study) for day in (step["received_on"], step["released_on"])]
    assert days == sorted(days)


def test_the_committed_decisions_are_those_of_the_first_step(
    datasets: Path, history: History
) -> None:
    decided = read_decisions(datasets / "link-width" / "decisions.toml").decisions
    first = history("link-width")[0]
    assert {item.set_id for item in decided} == set(first["admit"])
    assert {item.received_on for item in decided} == {first["received_on"]}


def test_the_generator_gives_the_later_sets_byte_for_byte(
    datasets: Path, generator: ModuleType, planting: ModuleType, truth: Path, tmp_path: Path
) -> None:
    kept = datasets / "link-width" / "later"
    effects = (planting.read_planted(truth, part) for part in ("planted", "moved"))
    for folder in generator.generate_later(tmp_path, *effects):
        assert set(files_below(folder)) == set(files_below(kept / folder.name))
        for name in files_below(folder):
            assert (folder / name).read_bytes() == (kept / folder.name / name).read_bytes(), name


def test_the_retest_holds_three_runs_of_each_planned_cell_and_no_other(datasets: Path) -> None:
    later = datasets / "link-width" / "later"
    planned = {
        (row["rig"].removeprefix("bench."), row["workload"], row["resolution"], row["level"])
        for row in rows_of(later / "retest-plan" / "frame.csv")
        if row["part"] in {"random", "targeted"}
    }
    runs = rows_of(later / "bench.retest-7-40" / "runs.csv")
    cells: dict[tuple[str, ...], int] = {}
    for row in runs:
        if row["role"] == "measured":
            key = (row["rig"], row["workload"], row["resolution"], row["level"])
            cells[key] = cells.get(key, 0) + 1
    assert cells.keys() == planned
    assert set(cells.values()) == {3}


def test_the_correction_mends_the_one_mistyped_driver(datasets: Path) -> None:
    later = datasets / "link-width" / "later"
    rows = rows_of(later / "bench.retest-7-40" / "sessions.csv")
    mistyped = [row for row in rows if row["driver_version"] != "7.40.0"]
    (correction,) = read_corrections(later / "corrections.toml")
    assert [
        (f"bench.{row['rig']}.{row['session']}", row["driver_version"]) for row in mistyped
    ] == [(correction.session, correction.was)]
    assert correction.becomes == "7.40.0"


@pytest.mark.parametrize(
    ("set_id", "errors"),
    [
        ("bench.retest-7-40", set()),
        ("ivo.november", set()),
        ("tove.old-board", set()),
        ("pell.first", {"average_below_low"}),
    ],
)
def test_the_later_sets_meet_the_same_intake_as_anyones(
    datasets: Path, tmp_path: Path, set_id: str, errors: set[str]
) -> None:
    shutil.copy(datasets / "link-width" / "study.toml", tmp_path)
    result = check_set(datasets / "link-width" / "later" / set_id, tmp_path)
    assert {item.rule for item in result.findings if item.severity == "error"} == errors


def test_the_false_set_is_anothers_with_the_averages_of_one_level_cut(datasets: Path) -> None:
    study = datasets / "link-width"
    false = rows_of(study / "later" / "pell.first" / "runs.csv")
    true = rows_of(study / "sets" / "bench.autumn-ostrevik" / "runs.csv")
    lows = {row["low_1pct_rank_fps"] for row in true if row["rig"] == "q2-94"}
    assert {row["low_1pct_rank_fps"] for row in false} <= lows
    averages = {row["average_fps"] for row in true if row["rig"] == "q2-94"}
    copied = [row["average_fps"] in averages for row in false if row["level"] == "x16"]
    assert all(copied)


def test_what_the_driver_moved_is_in_the_numbers(
    generator: ModuleType, planting: ModuleType, truth: Path
) -> None:
    planted, moved = (planting.read_planted(truth, part) for part in ("planted", "moved"))
    world = generator.read_world()
    making = generator.Making(world, generator.Draw(1), planted, moved)
    rigs = {
        (rig.full_name, rig.driver): rig
        for of_set in (*generator.rigs_of(world), *generator.later_rigs_of(world))
        for rig in of_set
    }

    def factor(name: str, driver: str, level: str, workload: str) -> float:
        sessions = generator.sessions_of(rigs[name, driver])
        session = next(held for held in sessions if held.level == level)
        return generator._factors(session, making, workload, "1920x1080")[0]

    def shift(name: str, level: str, workload: str) -> float:
        new, old = (factor(name, driver, level, workload) for driver in ("7.40.0", "7.31.0"))
        return round(100 * (new / old - 1), 1)

    found = {
        (name, workload): [shift(name, level, workload) for level in ("x16", "x8")]
        for name, workload in itertools.product(
            ("bench.q1-94", "bench.q3-52"),
            ("vostrel-marsh", "saltcress-rally", "thrumgate-88", "hask-of-umber"),
        )
    }
    nothing = [0.0, 0.0]
    assert found == {
        ("bench.q1-94", "vostrel-marsh"): [6.0, 6.0],
        ("bench.q1-94", "saltcress-rally"): nothing,
        ("bench.q1-94", "thrumgate-88"): [0.0, 8.9],
        ("bench.q1-94", "hask-of-umber"): nothing,
        ("bench.q3-52", "vostrel-marsh"): [6.0, 6.0],
        ("bench.q3-52", "saltcress-rally"): [-8.0, -8.0],
        ("bench.q3-52", "thrumgate-88"): nothing,
        ("bench.q3-52", "hask-of-umber"): nothing,
    }
