"""A study of two contributors on disk, written as a tester would, and re-tests of it."""

from __future__ import annotations

import csv
import datetime as dt
import random
import shutil
from dataclasses import dataclass, field
from itertools import product
from typing import TYPE_CHECKING, Any

import pytest
from typer.testing import CliRunner

from rigledger.cli import app
from rigledger.study.admit import AdmitResult, admit
from rigledger.study.layout import StudyFolder, open_study
from rigledger.tables.write import Built, build_study

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

STUDY = """\
[study]
study = "link-width"
title = "Link width"
question = "Does the change depend on the title?"
setting = "width of the card's link"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 0
material_change_pct = 3
session_spread_pct = 0.4
levels_share_sessions = true
metrics = ["average_fps"]
licence = "CC-BY-4.0"
consent_version = "1"

[[authors]]
name = "The rigledger maintainers"

[[levels]]
level = "x16"
title = "sixteen lanes"
baseline = true

[[levels]]
level = "x8"
title = "eight lanes"

[[contrasts]]
contrast = "x8-against-x16"
from_level = "x16"
to_level = "x8"

[[platforms]]
platform = "p1"
family = "second generation"
processor = "Ostrel 8"
board = "Pinnet B2"
memory_kit = "2 x 16 GB, 6000 MT/s"

[[cards]]
card = "fast"
model = "Velmar 90"
class = "card"
memory_gb = 16

[[plan]]
resolutions = ["1920x1080", "2560x1440"]
"""
WORKLOAD = """
[[workloads]]
workload = "{name}"
title = "{title}"
kind = "game"
preset = "high"
graphics_api = "Vulkan 1.3"
passage = "start to end"
passage_length_s = 60
"""
MANIFEST = """\
[set]
study = "link-width"
set = "{name}"
contributor = "{contributor}"
shown_name = "{shown}"
licence = "CC-BY-4.0"
consent_version = "1"

[same_for_all_runs]
level_state = "effective"
level_check = "link status read-out"
role = "measured"
"""
Row = dict[str, Any]
LEVELS = ("x16", "x8")
RATES = {"x16": 100.0, "x8": 95.0, "1920x1080": 1.0, "2560x1440": 0.7}
TITLES = ("dawn", "mist", "rain", "tide")
RESOLUTIONS = ("1920x1080", "2560x1440")
SPREAD = 0.003
"""Run-to-run spread of the invented runs, on the ln scale."""


@dataclass(frozen=True)
class Boot:
    """One boot of each rig of a set.

    Attributes:
        factors: What the rates of a rig and title are multiplied by.
        only: Rig, workload, resolution and level that are measured; None for all.
    """

    number: int = 1
    day: dt.date = dt.date(2026, 10, 5)
    driver: str = "1.0"
    firmware: str = "F1"
    build: str = "1"
    card_unit: str = "unknown"
    factors: Mapping[tuple[str, str], float] = field(default_factory=dict)
    only: frozenset[tuple[str, str, str, str]] | None = None


@dataclass
class Bench:
    """A study, and the folder in which sets are handed in."""

    study: StudyFolder
    inbox: Path

    def measure(self, set_id: str, rigs: tuple[str, ...], boot: Boot | None = None) -> AdmitResult:
        """Hand in and admit a set: one boot a rig, three runs a cell."""
        boot = boot or Boot()
        folder = self.inbox / set_id
        folder.mkdir(parents=True)
        contributor, _, name = set_id.partition(".")
        text = MANIFEST.format(name=name, contributor=contributor, shown=contributor.title())
        (folder / "result-set.toml").write_text(text, encoding="utf-8")
        _write(folder / "rigs.csv", [_rig(rig, boot) for rig in rigs])
        _write(folder / "sessions.csv", [_session(rig, boot) for rig in rigs])
        rows = [row for rig in rigs for row in _runs(contributor, rig, boot)]
        _write(folder / "runs.csv", rows)
        return admit(self.study, folder, received_on=boot.day)

    def build(self) -> Built:
        """Build the tables as they now are."""
        return build_study(self.study)


def _rig(rig: str, boot: Boot) -> Row:
    return {
        "rig": rig, "platform": "p1", "card": "fast", "platform_unit": "unknown",
        "card_unit": boot.card_unit, "hardware_from": "bought",
    }  # fmt: skip


def _session(rig: str, boot: Boot) -> Row:
    return {
        "rig": rig, "session": boot.number, "boot": boot.number, "round": 1,
        "started_on": boot.day, "firmware_version": boot.firmware, "driver_version": boot.driver,
        "card_firmware_version": "C1", "os": "Plinth 9", "os_build": "9.4", "profile": "default",
    }  # fmt: skip


def _runs(contributor: str, rig: str, boot: Boot) -> Iterator[Row]:
    chance = random.Random(f"{contributor} {rig} {boot.number}")  # noqa: S311 - invented data
    position = 0
    for title, resolution in product(TITLES, RESOLUTIONS):
        shift = chance.lognormvariate(0, 0.002) * boot.factors.get((rig, title), 1.0)
        for number, level in product((1, 2, 3), LEVELS):
            place = (f"{contributor}.{rig}", title, resolution, level)
            if boot.only is None or place in boot.only:
                position += 1
                value = RATES[level] * RATES[resolution] * shift * chance.lognormvariate(0, SPREAD)
                yield {
                    "rig": rig, "session": boot.number, "run": f"{position:03d}",
                    "workload": title, "title_build": boot.build, "resolution": resolution,
                    "level": level, "pass": number,
                    "average_fps": round(value, 3),
                }  # fmt: skip


def _write(path: Path, rows: list[Row]) -> None:
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


@pytest.fixture(scope="session")
def measured_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make once a study with two rigs of anna's, on driver 1.0."""
    root = tmp_path_factory.mktemp("audited")
    (root / "study").mkdir()
    text = STUDY + "".join(WORKLOAD.format(name=name, title=name.title()) for name in TITLES)
    (root / "study" / "study.toml").write_text(text, encoding="utf-8")
    bench = Bench(open_study(root / "study"), root / "inbox")
    assert bench.measure("anna.first", ("one", "two")).admitted
    return root / "study"


@pytest.fixture(scope="session")
def planned_once(measured_once: Path) -> Path:
    """Make once the plan of a re-test after driver 2.0."""
    out = measured_once.parent / "plan"
    words = ["audit", str(measured_once), "--driver", "2.0", "--since", "2026-10-20", "--plan"]
    result = CliRunner().invoke(
        app, [*words, "--runs", "84", "--tolerate", "25", "--out", str(out)]
    )
    assert result.exit_code == 0, result.output
    return out


@pytest.fixture
def plan(planned_once: Path, tmp_path: Path) -> Path:
    """Give a copy of that plan."""
    shutil.copytree(planned_once, tmp_path / "plan")
    return tmp_path / "plan"


@pytest.fixture
def bench(measured_once: Path, tmp_path: Path) -> Bench:
    """Give a copy of that study, to which sets can be handed in."""
    shutil.copytree(measured_once, tmp_path / "study")
    return Bench(open_study(tmp_path / "study"), tmp_path / "inbox")


@pytest.fixture
def retest() -> Boot:
    """Give the boot after the driver changed."""
    return Boot(number=2, day=dt.date(2026, 10, 21), driver="2.0")


@pytest.fixture
def cli() -> Callable[..., tuple[int, str]]:
    """Give a function that runs the command and gives exit code and output."""

    def run(*words: object) -> tuple[int, str]:
        result = CliRunner().invoke(app, ["audit", *map(str, words)])
        return result.exit_code, result.output

    return run
