"""The whole way on a study on disk: what is stale, the plan, the re-test, the decision."""

from __future__ import annotations

import csv
import json
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from rigledger.audit.plan import RANDOM, TARGETED
from rigledger.audit.plan_file import read_plan

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from conftest import Bench, Boot

    Cli = Callable[..., tuple[int, str]]

NEW = ("--driver", "2.0", "--since", "2026-10-20")
MOVED = {("one", "tide"): 0.9, ("two", "tide"): 0.9}


def cells_of(plan: Path) -> frozenset[tuple[str, str, str, str]]:
    """Give the cells that a plan re-tests."""
    held = read_plan(plan).plan
    return frozenset(one.cell.key for part in (RANDOM, TARGETED) for one in held.part(part))


def test_without_a_change_each_rigs_line_is_shown(bench: Bench, cli: Cli) -> None:
    code, text = cli(bench.study.root, "--rig", "anna.two")
    expected = (
        "anna.two\n"
        "  now 2026-10-05 to 2026-10-05, 1 session: firmware F1, driver 1.0, card firmware C1, "
        "OS Plinth 9, OS build 9.4, profile default\n"
    )
    assert (0, expected) == (code, text)


def test_what_rests_on_the_old_driver_is_listed_rig_by_rig_with_the_claims(
    bench: Bench, cli: Cli
) -> None:
    bench.study.claims.write_text(
        '[[claims]]\nclaim = "rain-narrow"\nsentence = "In Rain the narrow link costs 5 %."\n'
        'quantity = "change"\nvalue = "5 % slower"\n'
        'scope.rigs = ["anna.one"]\nscope.workloads = ["rain"]\n'
        'scope.resolutions = ["1920x1080"]\n',
        encoding="utf-8",
    )
    code, text = cli(bench.study.root, *NEW, "--rig", "anna.one")
    expected = (
        "With driver 2.0 from 2026-10-20 on, 8 published comparisons of 16 (50 % of the study) "
        "rest on an older version:\n"
        "  anna.one: 8 of its 8 comparisons in 4 titles, 8 with a material change; on driver "
        "1.0 since 2026-10-05\n"
        "1 claim rests on it:\n"
        "  rain-narrow (holds), all its comparisons: In Rain the narrow link costs 5 %.\n"
    )
    assert (1, expected) == (code, text)


def test_what_one_audit_built_the_next_one_reads(
    bench: Bench, cli: Cli, monkeypatch: pytest.MonkeyPatch
) -> None:
    bench.study.claims.write_text("", encoding="utf-8")
    first = cli(bench.study.root, *NEW)
    for place in ("audit.opening", "tables.write"):
        monkeypatch.setattr(
            f"rigledger.{place}.build_tables", lambda *_, **__: pytest.fail("built")
        )
    assert cli(bench.study.root, *NEW) == first


def test_the_plan_holds_the_frame_and_a_sheet_for_what_is_run(plan: Path) -> None:
    names = sorted(path.name for path in plan.iterdir())
    assert ["frame.csv", "plan.toml", "sheet-anna.csv", "sheet-anna.html"] == names
    with (plan / "sheet-anna.csv").open(encoding="utf-8", newline="") as stream:
        rows = list(csv.DictReader(stream))
    run = {(f"anna.{r['rig']}", r["workload"], r["resolution"], r["level"]) for r in rows}
    assert (cells_of(plan), 84, {"2"}) == (run, len(rows), {row["boot"] for row in rows})


def test_what_moved_is_seen_and_the_table_is_not_said_to_stand(
    bench: Bench, cli: Cli, retest: Boot, plan: Path
) -> None:
    boot = replace(retest, factors=MOVED, only=cells_of(plan))
    assert bench.measure("anna.second", ("one", "two"), boot).admitted
    code, text = cli(bench.study.root, "--result", plan, "--json")
    found = json.loads(text)
    seen = [held for held in found["cells"] if held["seen"]]
    told = [held for held in found["cells"] if held["planned"]["cell"]["workload"] == "tide"]
    assert (1, told) == (code, seen)
    assert all(-12 < held["shift_pct"] < -8 for held in seen)
    assert found["decision"]["verdict"] != "stands"
    assert found["decision"]["bound"]["at_most"] >= 8
    assert [] == [held for held in found["cells"] if held["also_changed"]]


def test_the_same_again_lets_the_table_stand_and_another_firmware_is_named(
    bench: Bench, cli: Cli, retest: Boot, plan: Path
) -> None:
    boot = replace(retest, firmware="F2", only=cells_of(plan))
    assert bench.measure("anna.second", ("one", "two"), boot).admitted
    code, text = cli(bench.study.root, "--result", plan)
    assert (0, True) == (code, "Decision: the table stands" in text), text
    assert "Note: on anna.one firmware_version changed too" in text


def test_a_control_on_the_same_stack_is_held_against_the_days_before(
    bench: Bench, cli: Cli, retest: Boot, tmp_path: Path
) -> None:
    words = ("--since", "2026-10-20", "--control", "--plan", "--runs", 66, "--tolerate", 25)
    code, text = cli(bench.study.root, *words, "--out", tmp_path / "plan")
    assert code == 0, text
    cells = cells_of(tmp_path / "plan")
    boot = replace(retest, driver="1.0", only=cells)
    assert bench.measure("anna.second", ("one", "two"), boot).admitted
    code, text = cli(bench.study.root, "--result", tmp_path / "plan")
    assert (0, True) == (code, "Decision: the table stands" in text), text
    assert ": the same stack from 2026-10-20 on" in text


def test_results_of_another_change_are_refused_and_nothing_is_lost(
    bench: Bench, cli: Cli, plan: Path, tmp_path: Path
) -> None:
    before = {path: path.read_bytes() for path in tmp_path.rglob("*.toml")}
    code, text = cli(bench.study.root, "--result", plan, "--json")
    error = json.loads(text)["error"]
    assert (2, "audit_results_for_another_plan") == (code, error["code"])
    assert "none of its cells was measured with driver_version 2.0" in error["message"]
    assert before == {path: path.read_bytes() for path in tmp_path.rglob("*.toml")}


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--plan", "--runs", 30), "--plan needs the change"),
        ((*NEW, "--plan"), "--plan needs a budget"),
        ((*NEW, "--plan", "--runs", 30, "--metric", "avarage_fps"), "did you mean 'average_fps'"),
        (("--title-build", "dawn"), "write it as workload=build"),
        (("--control", "--driver", "2.0"), "--control plans a re-test of the same stack"),
    ],
)
def test_wrong_use_says_what_to_write(
    bench: Bench, cli: Cli, words: tuple[object, ...], message: str
) -> None:
    code, text = cli(bench.study.root, *words)
    assert (2, True) == (code, message in text), text
