"""The page of numbers is what the committed study gives, and its simple figures are right."""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path
from statistics import fmean
from typing import TYPE_CHECKING

import pytest

from rigledger.charts.numbers_page import main, numbers_page, small_p
from rigledger.charts.source import open_source

if TYPE_CHECKING:
    from rigledger.charts.source import Source

ROOT = Path(__file__).resolve().parents[2]
STUDY = ROOT / "datasets" / "link-width"
PAGE = ROOT / "pipeline" / "docs" / "numbers.md"


@pytest.fixture(scope="module")
def source() -> Source:
    return open_source(STUDY)


@pytest.fixture(scope="module")
def page() -> str:
    return PAGE.read_text(encoding="utf-8")


def handed_in() -> dict[tuple[str, str, str], float]:
    """Read the worked cells' runs from the contributor's own file, by boot, level and pass."""
    path = STUDY / "sets" / "bench.autumn-hurlen" / "runs.csv"
    with path.open(encoding="utf-8", newline="") as stream:
        return {
            (row["session"], row["level"], row["run"]): float(row["average_fps"])
            for row in csv.DictReader(stream)
            if (row["workload"], row["resolution"]) == ("kippereen-deep", "1920x1080")
            and row["rig"] == "q3-52"
            and row["level"] in {"x16", "x8"}
            and row["average_fps"]
        }


@pytest.mark.slow
def test_the_committed_page_is_the_one_that_the_study_gives(source: Source, page: str) -> None:
    assert numbers_page(source, "datasets/link-width") == page


@pytest.mark.slow
def test_a_changed_figure_is_noticed(
    tmp_path: Path, page: str, capsys: pytest.CaptureFixture[str]
) -> None:
    stale = tmp_path / "numbers.md"
    stale.write_text(page.replace("63.30", "63.31", 1), encoding="utf-8", newline="\n")
    assert main([str(STUDY), "--out", str(stale), "--check"]) == 1
    assert "not current" in capsys.readouterr().out


def test_the_runs_are_the_ones_handed_in(page: str) -> None:
    shown = [
        float(held) for held in re.findall(r"^\| `bench\.q3-52\..*\| (\S+) \|$", page, re.MULTILINE)
    ]
    assert sorted(handed_in().values()) == sorted(shown)


def test_the_cells_mean_is_the_mean_of_its_sessions_means(page: str) -> None:
    sessions: dict[str, list[float]] = {}
    for (session, level, _), value in handed_in().items():
        if level == "x16":
            sessions.setdefault(session, []).append(math.log(value))
    expected = math.exp(fmean(fmean(logs) for logs in sessions.values()))
    (shown,) = re.findall(r"`geometric_mean` \| (\S+) \|", page)
    assert f"{expected:.2f}" == shown


def test_the_change_lies_between_the_changes_of_its_rounds(page: str) -> None:
    (one, other) = re.findall(r"(\S+) % in round \d", page)
    (together,) = re.findall(r"`change_pct` \| (\S+) % \|", page)
    first, second, change = (float(text.replace("−", "-")) for text in (one, other, together))
    assert min(first, second) <= change <= max(first, second)


def test_a_tiny_p_value_is_said_to_be_small_never_zero() -> None:
    assert (small_p(1e-12), small_p(0.0312)) == ("below 0.0001", "0.0312")
