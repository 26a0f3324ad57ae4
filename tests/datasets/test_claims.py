"""The claims of the demonstration studies, judged from their tables and held against the truth."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import pytest
from typer.testing import CliRunner

from rigledger.cli import app
from rigledger.console import CLEAN, FINDINGS

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

EXPECTED = {
    "spill-hurlen": ("holds", "borne_out"),
    "four-lanes-hurt": ("holds", "borne_out"),
    "spill-everywhere": ("broader_than_the_data", "dependence"),
    "eight-is-enough": ("broader_than_the_data", "cells_disagree"),
    "orrery-is-indifferent": ("holds", "borne_out"),
    "rally-gains": ("fails", "other_figure"),
    "umber-is-indifferent": ("not_settled", "too_wide"),
    "spill-depends": ("holds", "borne_out"),
    "four-lanes-on-average": ("holds", "borne_out"),
    "marsh-before-orrery": ("holds", "borne_out"),
    "rig-order": ("holds", "borne_out"),
    "petite-at-4k": ("not_settled", "no_such_cell"),
}


def call(*arguments: str | Path) -> tuple[int, list[dict[str, Any]]]:
    result = CliRunner().invoke(app, [*map(str, arguments), "--json"])
    return result.exit_code, json.loads(result.stdout)["claims"]


@pytest.fixture(scope="module")
def judged(datasets: Path) -> dict[str, dict[str, Any]]:
    code, claims = call("claims", datasets / "link-width")
    # Some of them don't hold, as they were written to.
    assert code == FINDINGS
    return {one["claim"]["claim"]: one for one in claims}


@pytest.mark.slow
def test_each_claim_of_the_invented_study_is_judged_as_it_was_written_to_be(
    judged: dict[str, dict[str, Any]],
) -> None:
    found = {name: (one["verdict"], one["finding"]) for name, one in judged.items()}
    assert found == EXPECTED


@pytest.mark.slow
def test_what_holds_is_true_of_what_was_planted_and_what_fails_is_not(
    judged: dict[str, dict[str, Any]], planting: ModuleType, truth: Path
) -> None:
    planted = tuple(planting.read_planted(truth))

    def farthest(name: str, stated: float) -> float:
        """Give how far the planted change of any of a claim's cells lies from what is stated."""
        changes = [
            planting.planted_change_pct(planted, planting.Cell(**_place(row)), row["metric"])
            for row in judged[name]["cells"]
        ]
        return max(abs(change - stated) for change in changes)

    assert farthest("spill-hurlen", -12.0) <= 0.5
    assert farthest("four-lanes-hurt", -22.0) <= 0.5
    assert farthest("orrery-is-indifferent", 0.0) <= 3
    assert farthest("rally-gains", 12.0) > 3
    assert farthest("eight-is-enough", 0.0) > 3


@pytest.mark.slow
def test_every_sentence_that_is_offered_or_proposed_holds(
    judged: dict[str, dict[str, Any]], datasets: Path, tmp_path: Path
) -> None:
    folder = shutil.copytree(datasets / "link-width", tmp_path / "study")
    offered = [one["offered"] for one in judged.values() if one["offered"]]
    assert len(offered) >= 3
    text = "\n".join(offered)
    (folder / "claims.toml").write_text(text, encoding="utf-8")
    code, again = call("claims", folder)
    assert (code, {one["verdict"] for one in again}) == (CLEAN, {"holds"})


@pytest.mark.slow
def test_the_claims_of_the_measured_study_are_honest_about_what_is_not_known(
    datasets: Path,
) -> None:
    _, claims = call("claims", datasets / "driver-threading")
    assert {one["claim"]["claim"]: one["verdict"] for one in claims} == {
        "heavy-pixels-indifferent": "holds",
        "accelerator-is-faster": "holds",
        "streaming-loses-a-third": "not_settled",
        "depends-on-the-card": "not_settled",
        "lows-unchanged": "not_settled",
    }


def _place(row: dict[str, str]) -> dict[str, str]:
    platform, card = row["rig"].partition(".")[2].split("-")
    return {
        "platform": platform,
        "card": f"brankelo-{card}",
        "workload": row["workload"],
        "resolution": row["resolution"],
        "level": row["contrast"].partition("-")[0],
    }
