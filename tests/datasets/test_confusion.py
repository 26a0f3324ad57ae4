from __future__ import annotations

import math
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType


WITHIN = "within the material change"


def comparison(platform: str = "q1", card: str = "c1", **said: str) -> dict[str, str]:
    usual = {
        "rig": f"bench.{platform}-{card}", "contributor": "bench",
        "platform": platform, "card": card,
        "workload": "w", "resolution": "1920x1080", "contrast": "x8-against-x16", "to_level": "x8",
        "metric": "average_fps", "change_pct": "-4", "low_95_pct": "-5", "high_95_pct": "-3",
        "direction": "not_shown", "size": "immaterial", "no_verdict": "",
    }  # fmt: skip
    return usual | said


def effect(factor: str, **said: str) -> dict[str, str]:
    usual = {
        "contributor": "bench", "workload": "w", "resolution": "1920x1080", "metric": "average_fps",
        "contrast": "x8-against-x16", "factor": factor, "depends": "false", "not_estimable": "",
        "extent_pct": "1",
    }  # fmt: skip
    return usual | said


@pytest.fixture
def loss_on_q1(confusing: ModuleType) -> tuple[object, ...]:
    planted = confusing._neighbour().Planted("x", "x8", {"average_fps": -10.0}, platforms=("q1",))
    return (planted,)


def test_directions_are_counted_and_wrong_ones_named(
    confusing: ModuleType, loss_on_q1: tuple[object, ...]
) -> None:
    rows = [
        comparison("q1", direction="loss"),
        comparison("q1", direction="gain"),
        comparison("q1", direction="not_shown"),
        comparison("q2", direction="not_shown"),
        comparison("q2", direction="loss"),
        comparison("q2", direction="", size="", no_verdict="one_run"),
    ]
    found, _, _ = confusing.confusion_tables(rows, [], loss_on_q1, 3)
    assert found.counts == {
        ("loss", "loss"): 1,
        ("loss", "gain"): 1,
        ("loss", "not_shown"): 1,
        ("nothing planted", "not_shown"): 1,
        ("nothing planted", "loss"): 1,
        ("nothing planted", "no verdict"): 1,
    }
    assert found.named == (
        (
            "bench.q1-c1 w 1920x1080 x8-against-x16 average_fps: "
            "planted -10.0 %, found gain -4.0 % (-5.0 to -3.0)"
        ),
        (
            "bench.q2-c1 w 1920x1080 x8-against-x16 average_fps: "
            "planted +0.0 %, found loss -4.0 % (-5.0 to -3.0)"
        ),
    )


def test_sizes_are_counted_and_settled_wrong_ones_named(
    confusing: ModuleType, loss_on_q1: tuple[object, ...]
) -> None:
    rows = [
        comparison("q1", size="material"),
        comparison("q1", size="immaterial"),
        comparison("q1", size="unsettled"),
        comparison("q2", size="material"),
    ]
    _, found, _ = confusing.confusion_tables(rows, [], loss_on_q1, 3)
    assert found.counts == {
        ("beyond it", "material"): 1,
        ("beyond it", "immaterial"): 1,
        ("beyond it", "unsettled"): 1,
        ("nothing planted", "material"): 1,
    }
    assert len(found.named) == 2
    _, within, _ = confusing.confusion_tables(rows[:1], [], loss_on_q1, 12)
    assert within.counts == {("within the material change", "material"): 1}


def test_dependence_is_judged_by_the_planted_extent_over_the_cross(
    confusing: ModuleType, loss_on_q1: tuple[object, ...]
) -> None:
    rows = [comparison(platform, card) for platform in ("q1", "q2") for card in ("c1", "c2")]
    effects = [
        effect("platform", depends="true"),
        effect("card", depends="true"),
        effect("platform_card", not_estimable="no_spread"),
    ]
    _, _, found = confusing.confusion_tables(rows, effects, loss_on_q1, 3)
    assert found.counts == {
        ("beyond it", "depends"): 1,
        ("nothing planted", "depends"): 1,
        ("nothing planted", "not estimable"): 1,
    }
    assert len(found.named) == 1
    assert "card: planted extent 0.0 %, found depends" in found.named[0]


def test_planted_extents_are_those_of_a_two_way_decomposition(confusing: ModuleType) -> None:
    # By hand: means of rows 2 and 6, of columns 3 and 5, grand mean 4; what is left is 1 or -1.
    found = confusing.planted_extents([[0.02, 0.02], [0.04, 0.08]])
    expected = {"platform": 0.04, "card": 0.02, "platform_card": 0.02}
    assert found == pytest.approx({name: 100 * math.expm1(v) for name, v in expected.items()})


def test_a_table_is_plain_text_with_its_rows_and_columns(confusing: ModuleType) -> None:
    table = confusing.Confusion("T", ("a", "bb"), ("x", "y"), {("a", "y"): 7}, ("named",))
    assert table.text == (
        "T\n"
        "                x              y\n"
        "a               0              7\n"
        "bb              0              0\n"
        "  named"
    )


@pytest.mark.parametrize(("driver", "size"), [("7.31.0", "beyond it"), ("7.40.0", WITHIN)])
def test_a_release_is_held_against_what_was_planted_for_its_driver(
    confusing: ModuleType, tmp_path: Path, truth: Path, driver: str, size: str
) -> None:
    rows = {
        "derived/comparisons": comparison(
            "q1", "brankelo-94", workload="thrumgate-88", direction="loss", stack="bench.stack-2"
        ),
        "derived/factor_effects": effect("platform", workload="thrumgate-88"),
        "data/stacks": {"stack": "bench.stack-2", "driver_version": driver},
    }
    for name, row in rows.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        text = ",".join(row) + "\n" + ",".join(row.values()) + "\n"
        (tmp_path / f"{name}.csv").write_text(text, encoding="utf-8")
    direction, sizes, depends = confusing.of_release(tmp_path, truth)
    assert direction.counts == {("loss", "loss"): 1}
    assert sizes.counts == {(size, "immaterial"): 1}
    assert depends.counts == {("nothing planted", "not shown"): 1}
