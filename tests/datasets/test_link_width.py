"""The invented study: its sets come out of its generator, and hold what its README says."""

from __future__ import annotations

import csv
import itertools
import math
from collections import Counter
from statistics import mean, stdev
from typing import TYPE_CHECKING

from rigledger.files import files_below
from rigledger.study.decisions import read_decisions
from rigledger.study.design import read_design
from rigledger.study.model import PlannedRig

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

Runs = list[dict[str, str]]


def runs_below(folder: Path) -> Runs:
    rows: Runs = []
    for path in sorted(folder.glob("*/runs.csv")):
        with path.open(encoding="utf-8", newline="") as stream:
            rows += [{**row, "set": path.parent.name} for row in csv.DictReader(stream)]
    return rows


def measured(rows: Runs) -> Runs:
    return [row for row in rows if row["role"] == "measured"]


def cell(row: dict[str, str]) -> tuple[str, ...]:
    names = ("set", "rig", "workload", "title_build", "resolution", "level")
    return tuple(row[name] for name in names)


def test_the_generator_gives_the_committed_sets_byte_for_byte(
    datasets: Path, generator: ModuleType, planting: ModuleType, truth: Path, tmp_path: Path
) -> None:
    kept = datasets / "link-width" / "sets"
    made = generator.generate(tmp_path, planting.read_planted(truth))
    added_at_admission = {"SHA256SUMS"}
    for folder in made:
        names = files_below(folder)
        assert set(names) == set(files_below(kept / folder.name)) - added_at_admission
        for name in names:
            assert (folder / name).read_bytes() == (kept / folder.name / name).read_bytes(), name
    assert sorted(path.name for path in made) == sorted(path.name for path in kept.iterdir())


def test_every_committed_set_was_admitted(datasets: Path) -> None:
    study = datasets / "link-width"
    decided = read_decisions(study / "decisions.toml").in_force
    assert [item.set_id for item in decided] == sorted(
        path.name for path in (study / "sets").iterdir()
    )


def test_the_sets_hold_three_runs_of_every_planned_cell_that_is_possible(datasets: Path) -> None:
    design = read_design(datasets / "link-width" / "study.toml")
    rows = measured(runs_below(datasets / "link-width" / "sets"))
    rigs = [
        PlannedRig(f"{platform}-{card[-2:]}", platform, card)
        for platform in ("q1", "q2", "q3", "q4")
        for card in ("brankelo-94", "brankelo-52")
    ]
    planned = {
        (item.rig, item.workload, item.resolution, item.level): 3
        for item in design.planned_cells(rigs)
        if item.workload != "sentinel-sphere"
    }
    again_after_a_patch = ("q3-94", "wendmoor-siege", "1.5.0")
    found = Counter(
        (row["rig"], row["workload"], row["resolution"], row["level"])
        for row in rows
        if row["set"].startswith("bench.")
        and not row["rig"].startswith("q5")
        and (row["rig"], row["workload"], row["title_build"]) != again_after_a_patch
    )
    assert dict(found) == planned
    assert sum(planned.values()) == 4 * 8 * (3 * 3 + 2 * 2) * 3


def test_each_session_has_one_level_and_a_sentinel_at_both_ends(datasets: Path) -> None:
    sessions: dict[tuple[str, ...], Runs] = {}
    for row in runs_below(datasets / "link-width" / "sets"):
        if row["role"] != "not_possible":
            sessions.setdefault((row["set"], row["rig"], row["session"]), []).append(row)
    for rows in sessions.values():
        assert len({row["level"] for row in rows}) == 1
        roles = [row["role"] for row in sorted(rows, key=lambda row: row["started_at"])]
        assert [roles[0], roles[-1], roles.count("sentinel")] == ["sentinel", "sentinel", 2]
    assert len(sessions) == 4 * (6 + 4) + 2 + 4


def test_a_patch_leaves_cells_without_a_partner(datasets: Path) -> None:
    rows = measured(runs_below(datasets / "link-width" / "sets"))
    cells = {cell(row) for row in rows if row["level"] in {"x16", "x8"}}
    alone = {
        item
        for item in cells
        if (*item[:-1], "x8" if item[-1] == "x16" else "x16") not in cells
        and not item[1].startswith("q5")
    }
    assert alone == {
        ("bench.autumn-hurlen", "q4-52", "wendmoor-siege", build, resolution, level)
        for resolution in ("1920x1080", "2560x1440")
        for build, level in (("1.4.2", "x16"), ("1.5.0", "x8"))
    }


def test_the_patched_title_never_goes_back_to_its_old_build(datasets: Path) -> None:
    rows = [
        row
        for row in measured(runs_below(datasets / "link-width" / "sets"))
        if row["workload"] == "wendmoor-siege" and row["set"].startswith("bench.")
    ]
    for rig in {row["rig"] for row in rows}:
        times = sorted((row["started_at"], row["title_build"]) for row in rows if row["rig"] == rig)
        builds = [build for _, build in times]
        assert builds == sorted(builds)


def test_x16_is_noted_as_not_possible_with_a_reason_on_one_platform(datasets: Path) -> None:
    rows = [
        row
        for row in runs_below(datasets / "link-width" / "sets")
        if row["rig"] == "q5-52" and row["level"] == "x16"
    ]
    assert len(rows) == 8 * 2
    assert {(row["role"], row["level_state"], bool(row["reason"])) for row in rows} == {
        ("not_possible", "unsupported", True)
    }
    assert {(row["average_fps"], row["low_1pct_rank_fps"]) for row in rows} == {("", "")}


def test_the_second_contributor_reports_whole_numbers_and_the_first_tenths(datasets: Path) -> None:
    rows = measured(runs_below(datasets / "link-width" / "sets"))
    for row in rows:
        assert ("." in row["average_fps"]) == (row["set"] != "maren.first")
    assert Counter(row["set"] for row in rows)["maren.first"] == 8 * 3 * 2 * 3


def test_the_capped_title_stays_at_its_cap_where_the_rig_could_do_more(datasets: Path) -> None:
    rows = [
        float(row["average_fps"])
        for row in measured(runs_below(datasets / "link-width" / "sets"))
        if (row["workload"], row["resolution"]) == ("ollanquay-nights", "1920x1080")
        and row["rig"].endswith("-94")
    ]
    assert len(rows) > 30
    assert 119.8 <= min(rows) <= max(rows) <= 120.0


def test_no_low_lies_above_its_average(datasets: Path) -> None:
    for row in runs_below(datasets / "link-width" / "sets"):
        if row["average_fps"]:
            assert float(row["low_1pct_rank_fps"]) < float(row["average_fps"])


def test_planted_effects_are_in_the_numbers_and_absent_from_a_null_study(
    generator: ModuleType, planting: ModuleType, truth: Path, tmp_path: Path
) -> None:
    generator.generate(tmp_path / "planted", planting.read_planted(truth), seed=3)
    generator.generate(tmp_path / "null", seed=3)
    planted, null = (measured(runs_below(tmp_path / name)) for name in ("planted", "null"))
    expected = {
        ("q3-52", "kippereen-deep", "1920x1080", "x8"): -12.0,
        ("q3-94", "kippereen-deep", "1920x1080", "x8"): 0.0,
        ("q1-94", "thrumgate-88", "3840x2160", "x8"): -10.0,
        ("q2-94", "thrumgate-88", "3840x2160", "x8"): 0.0,
        ("q2-52", "saltcress-rally", "1920x1080", "x8"): 6.0,
        ("q1-94", "vostrel-marsh", "2560x1440", "x4"): -6.0,
    }
    found = {key: 100 * math.expm1(_ln(planted, key) - _ln(null, key)) for key in expected}
    assert {key: round(value, 0) for key, value in found.items()} == expected


def _ln(rows: Runs, key: tuple[str, str, str, str]) -> float:
    names = ("rig", "workload", "resolution", "level")
    held = [
        math.log(float(row["average_fps"]))
        for row in rows
        if tuple(row[name] for name in names) == key and row["set"].startswith("bench.")
    ]
    assert len(held) == 3
    return mean(held)


def test_sessions_really_differ_by_the_stated_spread(generator: ModuleType) -> None:
    # Sentinels over many sessions: their own scatter (0.3 %) and the session's (0.4, 0.15 %) add.
    rows = []
    for seed in range(20):
        making = generator.Making(generator.read_world(), generator.Draw(seed), ())
        rig = generator.rigs_of(making.world)[0][0]
        job = ("sentinel-sphere", "1920x1080", 1)
        rows += [
            math.log(generator.values(session, making, job)[0])
            for session in generator.sessions_of(rig)
        ]
    expected_pct = math.hypot(0.3, 0.4, 0.15)
    assert len(rows) == 120
    assert abs(100 * stdev(rows) - expected_pct) < 3 * expected_pct / math.sqrt(2 * 119)


def test_another_seed_gives_other_numbers_and_the_same_seed_the_same(
    generator: ModuleType, tmp_path: Path
) -> None:
    for name, seed in (("a", 1), ("b", 1), ("c", 2)):
        generator.generate(tmp_path / name, seed=seed)
    one, again, other = (runs_below(tmp_path / name) for name in ("a", "b", "c"))
    assert one == again
    assert one != other
    assert [cell(row) for row in measured(one)] != [cell(row) for row in measured(other)]
    assert Counter(map(cell, measured(one))) == Counter(map(cell, measured(other)))


def test_truth_names_only_what_the_study_knows(
    datasets: Path, planting: ModuleType, truth: Path
) -> None:
    design = read_design(datasets / "link-width" / "study.toml")
    known = {
        "platforms": {item.platform for item in design.platforms},
        "cards": {item.card for item in design.cards},
        "workloads": {item.workload for item in design.workloads},
        "resolutions": {item for part in design.plan for item in part.resolutions},
    }
    for entry in planting.read_planted(truth):
        assert entry.level in {item.level for item in design.levels}
        assert set(entry.change_pct) == set(design.metrics)
        for name, legal in known.items():
            assert set(getattr(entry, name) or ()) <= legal


def test_no_effect_is_planted_where_a_cap_hides_it(
    generator: ModuleType, planting: ModuleType, truth: Path
) -> None:
    world, planted = generator.read_world(), planting.read_planted(truth)
    hidden = 0
    for rig in itertools.chain.from_iterable(generator.rigs_of(world)):
        for workload, resolution in generator.cells_of(rig):
            title = world["titles"][workload]
            if generator.base_fps(rig, title, resolution) < title.get("cap_fps", math.inf):
                continue
            hidden += 1
            for level in ("x8", "x4"):
                place = planting.Cell(rig.platform, rig.card, workload, resolution, level)
                assert planting.planted_change_pct(planted, place, "average_fps") == 0
    assert hidden == 2 * 5
