"""The measured study: what is in its sets, and that nothing in them was made up on the way."""

from __future__ import annotations

import csv
import hashlib
import json
from collections import Counter
from typing import TYPE_CHECKING

import pytest

from rigledger.study.decisions import read_decisions
from rigledger.study.design import read_design
from rigledger.study.model import PlannedRig

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

Rows = list[dict[str, str]]


def rows_of(path: Path) -> Rows:
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def runs(datasets: Path) -> Rows:
    sets = datasets / "driver-threading" / "sets"
    return [row for path in sorted(sets.glob("*/runs.csv")) for row in rows_of(path)]


def test_the_sets_hold_the_passes_that_were_measured(datasets: Path) -> None:
    found = Counter((row["rig"], row["session"], row["level"]) for row in runs(datasets))
    assert found == {
        ("rig-a", "session-1", "off"): 4 * 3 * 5,
        ("rig-a", "session-1", "on"): 4 * 3 * 5,
        ("rig-a", "session-2", "off"): 4 * 3 * 3,
        ("rig-a", "session-2", "on"): 4 * 3 * 3,
        ("rig-c", "stack-1", "off"): 4 * 2 * 5,
        ("rig-c", "stack-1", "on"): 4 * 2 * 5,
        ("rig-c", "stack-2", "off"): 4 * 2 * 5,
        ("rig-c", "stack-2", "on"): 4 * 2 * 5,
    }


def test_every_planned_cell_was_measured_and_no_other(datasets: Path) -> None:
    design = read_design(datasets / "driver-threading" / "study.toml")
    rigs = [
        PlannedRig("rig-a", "server-a", "accelerator-a"),
        PlannedRig("rig-c", "server-c", "software-c"),
    ]
    planned = {
        (item.rig, item.workload, item.resolution, item.level)
        for item in design.planned_cells(rigs)
    }
    names = ("rig", "workload", "resolution", "level")
    assert planned == {tuple(row[name] for name in names) for row in runs(datasets)}


def test_what_is_not_known_is_stated_as_unknown(datasets: Path) -> None:
    for folder in (datasets / "driver-threading" / "sets").iterdir():
        rigs, sessions = rows_of(folder / "rigs.csv"), rows_of(folder / "sessions.csv")
        stated = {
            row[name] for row in rigs for name in ("platform_unit", "card_unit", "hardware_from")
        }
        stated |= {row[name] for row in sessions for name in ("firmware_version", "os", "profile")}
        assert stated == {"unknown"}
        manifest = (folder / "result-set.toml").read_text(encoding="utf-8")
        assert 'level_state = "unknown"' in manifest


def test_both_sessions_of_a_rig_count_with_passages_of_the_same_length(datasets: Path) -> None:
    design = read_design(datasets / "driver-threading" / "study.toml")
    lengths = {item.passage_length_s for item in design.workloads}
    assert lengths == {3.2}
    for folder in (datasets / "driver-threading" / "sets").iterdir():
        manifest = (folder / "result-set.toml").read_text(encoding="utf-8")
        assert "capture_from_s = 0\ncapture_for_s = 3.2\n" in manifest


def test_a_capture_belongs_to_each_run_and_to_no_other(datasets: Path) -> None:
    for folder in (datasets / "driver-threading" / "sets").iterdir():
        named = [row["capture_file"] for row in rows_of(folder / "runs.csv")]
        there = [
            path.relative_to(folder).as_posix() for path in (folder / "captures").rglob("*.csv")
        ]
        assert sorted(named) == sorted(there)


def test_every_committed_set_was_admitted(datasets: Path) -> None:
    decided = read_decisions(datasets / "driver-threading" / "decisions.toml").in_force
    assert [item.set_id for item in decided] == [
        "house.rig-a",
        "house.rig-c-new-driver",
        "house.rig-c-old-driver",
    ]


def test_the_sets_of_rig_c_are_its_sessions_on_two_drivers_and_nothing_else_differs(
    datasets: Path,
) -> None:
    sets = datasets / "driver-threading" / "sets"
    rows = [
        rows_of(sets / f"house.rig-c-{name}-driver" / "sessions.csv") for name in ("old", "new")
    ]
    assert [[row["driver_version"] for row in held] for held in rows] == [["22.3.6"], ["25.0.7"]]
    ((old,), (new,)) = rows
    assert {name for name in old if old[name] != new[name]} == {
        "session", "boot", "round", "driver_version",
    }  # fmt: skip
    manifests = {
        (sets / f"house.rig-c-{name}-driver" / "result-set.toml")
        .read_text(encoding="utf-8")
        .replace(f"rig-c-{name}-driver", "rig-c")
        for name in ("old", "new")
    }
    assert len(manifests) == 1


@pytest.fixture
def measured(tmp_path: Path) -> Path:
    """A folder in the shape of what was measured: one rig, one session, two passes."""
    folder = tmp_path / "rig-c"
    captures = folder / "stack-1" / "captures"
    captures.mkdir(parents=True)
    told = {
        "rig": "rig-c", "os_kernel": "6.1", "scene_load": "reduced",
        "stacks": [{"stack": "stack-1", "driver_version": "22.3.6"}],
    }  # fmt: skip
    (folder / "rig.json").write_text(json.dumps(told), encoding="utf-8")
    lines = ["capture_file,scene,resolution,setting,pass_number,started_at,frames,sha256"]
    for scene, second in (("streamed-dots", "09"), ("raymarched-hall", "05")):
        data = f"frame_time_ms\n1.{second}\n".encode()
        (captures / f"{scene}.csv").write_bytes(data)
        digest = hashlib.sha256(data).hexdigest()
        time = f"2026-11-25T12:00:{second}.100Z"
        lines.append(f"{scene}.csv,{scene},1920x1080,off,1,{time},1,{digest}")
    (folder / "stack-1" / "passes.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    return folder


def test_bringing_in_copies_captures_and_numbers_runs_by_time(
    bringing_in: ModuleType, measured: Path, tmp_path: Path
) -> None:
    out = tmp_path / "out"
    assert bringing_in.bring_in(measured, out) == 2
    assert rows_of(out / "runs.csv") == [
        {
            "rig": "rig-c",
            "session": "stack-1",
            "run": run,
            "workload": workload,
            "resolution": "1920x1080",
            "level": "off",
            "pass": "1",
            "started_at": f"2026-11-25T12:00:{second}.100Z",
            "capture_file": f"captures/stack-1/{scene}.csv",
        }
        for run, workload, scene, second in (
            ("001", "raymarched-hall", "raymarched-hall", "05"),
            ("002", "streamed-dots-reduced", "streamed-dots", "09"),
        )
    ]
    for name in ("raymarched-hall", "streamed-dots"):
        copied = out / "captures" / "stack-1" / f"{name}.csv"
        source = measured / "stack-1" / "captures" / f"{name}.csv"
        assert copied.read_bytes() == source.read_bytes()


def test_a_set_holds_one_session_where_one_is_asked_for(
    bringing_in: ModuleType, measured: Path, tmp_path: Path
) -> None:
    out = tmp_path / "rig-c-other-driver"
    assert bringing_in.bring_in(measured, out, session="stack-2") == 0
    assert rows_of(out / "sessions.csv") == []
    assert 'set = "rig-c-other-driver"' in (out / "result-set.toml").read_text(encoding="utf-8")


def test_a_capture_with_another_hash_than_listed_is_refused(
    bringing_in: ModuleType, measured: Path, tmp_path: Path
) -> None:
    wrong = measured / "stack-1" / "captures" / "streamed-dots.csv"
    wrong.write_bytes(b"frame_time_ms\n2\n")
    with pytest.raises(bringing_in.MeasuredFolderError, match="not the one") as caught:
        bringing_in.bring_in(measured, tmp_path / "out")
    assert caught.value.file == "streamed-dots.csv"
