"""A small study, and result sets that answer it."""

from __future__ import annotations

import csv
import datetime as dt
import shutil
from dataclasses import replace
from typing import TYPE_CHECKING
from unittest.mock import patch

import pytest

from rigledger.contract import Contract, load_contract
from rigledger.study.admit import AdmitResult, admit
from rigledger.study.design import read_design
from rigledger.study.kit_folder import write_kit_folder
from rigledger.study.kit_model import Kit, Tester, make_kit
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.sheet import make_sheet, rigs_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.intake.result import CheckResult
    from rigledger.study.model import Design

STUDY = """\
[study]
study = "link-width"
title = "Link width"
question = "Does the change depend on the card's memory?"
setting = "width of the card's link"
runs_required = 3
rounds_planned = 2
rounds_may_be_added = 1
material_change_pct = 3
levels_share_sessions = false
metrics = ["average_fps", "low_1pct_rank_fps"]
licence = "CC-BY-4.0"
consent_version = "1"

[[levels]]
level = "x16"
title = "sixteen lanes"
baseline = true

[[levels]]
level = "x8"
title = "eight lanes"

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

[[cards]]
card = "slow"
model = "Velmar 30"
class = "card"
memory_gb = 6

[[workloads]]
workload = "harbour-dawn"
title = "Harbour at Dawn"
kind = "game"
preset = "high"
graphics_api = "Vulkan 1.3"
passage = "the walk along the quay"
passage_length_s = 60
plausible."1920x1080".average_fps = [20, 400]

[[workloads]]
workload = "salt-road"
title = "Salt Road"
kind = "game"
preset = "high"
graphics_api = "Vulkan 1.3"
passage = "the first dune"
passage_length_s = 30
launch_min = 2.5

[[workloads]]
workload = "sentinel-loop"
title = "Sentinel loop"
kind = "sentinel"
preset = "high"
graphics_api = "Vulkan 1.3"
passage = "the loop"
passage_length_s = 30

[[plan]]
cards = ["fast"]
resolutions = ["1920x1080", "2560x1440"]

[[plan]]
cards = ["slow"]
resolutions = ["1920x1080"]

[[sentinels]]
workload = "sentinel-loop"
resolution = "1920x1080"
"""


@pytest.fixture(scope="session")
def contract() -> Contract:
    return load_contract()


@pytest.fixture
def write_study(tmp_path: Path) -> Callable[..., Path]:
    """Write a study.toml; pairs of texts are replaced in it, each of which has to be there."""

    def write(*pairs: tuple[str, str]) -> Path:
        text = STUDY
        for old, new in pairs:
            assert old in text
            text = text.replace(old, new, 1)
        folder = tmp_path / "study"
        folder.mkdir(exist_ok=True)
        (folder / "study.toml").write_text(text, encoding="utf-8")
        return folder / "study.toml"

    return write


@pytest.fixture
def study(write_study: Callable[..., Path]) -> StudyFolder:
    return open_study(write_study())


@pytest.fixture
def design(study: StudyFolder) -> Design:
    return read_design(study.toml)


@pytest.fixture
def fast_kit(design: Design, contract: Contract) -> Kit:
    return _fast_kit(design, contract)


def _fast_kit(design: Design, contract: Contract) -> Kit:
    rigs = rigs_of(design, cards=["fast"])
    tester = Tester("anna", "autumn-1", "Anna", "+01:00")
    return make_kit(design, contract, rigs, make_sheet(design, rigs), tester=tester)


SESSION = {
    "firmware_version": "2.14",
    "driver_version": "551.10",
    "card_firmware_version": "none",
    "os": "desktop-os 11",
    "os_build": "26100.2314",
    "memory_speed_mts": 6000,
    "profile": "default",
}
RIG = {"platform_unit": "bench-1", "card_unit": "card-a", "hardware_from": "bought"}


def _typed_run(place: int, row: dict[str, object]) -> dict[str, object]:
    # Enough spread, and last digits enough, not to look made up.
    fps = 100 + (place * 37 % 17) / 10 + (3.1 if row["level"] == "x16" else 0)
    typed = {
        "title_build": "1.0.4",
        "level_state": "effective",
        "level_check": "link status read-out",
        "average_fps": round(fps, 1),
        "low_1pct_rank_fps": round(fps * 0.7 - (place * 29 % 13) / 10, 1),
    }
    return row | typed


def _filled(kit: Kit) -> Kit:
    rigs = [row | RIG for row in kit.table("rigs").rows]
    sessions = [
        row | SESSION | {"started_on": dt.date(2026, 10, row["boot"])}
        for row in kit.table("sessions").rows
    ]
    runs = [_typed_run(place, row) for place, row in enumerate(kit.table("runs").rows)]
    made = kit.with_rows("rigs", rigs).with_rows("sessions", sessions)
    return made.with_rows("runs", runs)


@pytest.fixture
def fill() -> Callable[[Kit], Kit]:
    """Type in what a person would: units, versions, builds, states and numbers."""
    return _filled


@pytest.fixture
def handed_in(fast_kit: Kit, fill: Callable[[Kit], Kit], tmp_path: Path) -> Path:
    folder = tmp_path / "handed-in"
    write_kit_folder(folder, fill(fast_kit))
    return folder


@pytest.fixture
def second_set(fast_kit: Kit, tmp_path: Path) -> Callable[..., Path]:
    """Write a further set of the same rig, or of such a one: later boots, another shown name."""

    def write(*, card: str = "fast", contributor: str = "anna") -> Path:
        kit = _filled(fast_kit)
        sessions = [
            row
            | {
                "session": f"b{row['boot'] + 4}",
                "boot": row["boot"] + 4,
                "round": 3,
                "started_on": dt.date(2026, 10, 10 + row["boot"]),
                "driver_date": dt.date(2026, 9, 2),
            }
            for row in kit.table("sessions").rows
        ]
        runs = [
            row
            | {
                "session": f"b{int(row['session']) + 4}",
                "average_fps": round(row["average_fps"] + 0.7 + place % 3 / 10, 1),
            }
            for place, row in enumerate(kit.table("runs").rows)
        ]
        rigs = [row | {"card": card} for row in kit.table("rigs").rows]
        said = kit.set | {"set": "autumn-2", "shown_name": "Anna B.", "contributor": contributor}
        made = kit.with_rows("sessions", sessions).with_rows("runs", runs).with_rows("rigs", rigs)
        folder = tmp_path / "second"
        write_kit_folder(folder, replace(made, set=said))
        return folder

    return write


@pytest.fixture
def edit() -> Callable[[Path, Callable[[dict[str, str]], dict[str, str] | None]], None]:
    """Edit a CSV file row by row; a row that gives None goes."""

    def edited(path: Path, change: Callable[[dict[str, str]], dict[str, str] | None]) -> None:
        with path.open(encoding="utf-8", newline="") as stream:
            rows = [kept for row in csv.DictReader(stream) if (kept := change(row))]
        with path.open("w", encoding="utf-8", newline="") as stream:
            writer = csv.DictWriter(stream, list(rows[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)

    return edited


@pytest.fixture(scope="session")
def answered(
    tmp_path_factory: pytest.TempPathFactory,
    contract: Contract,
    check_here: Callable[..., CheckResult],
) -> tuple[StudyFolder, AdmitResult]:
    """A study with one admitted set, made once; tests get a copy by `admitted`."""
    root = tmp_path_factory.mktemp("answered")
    (root / "study").mkdir()
    (root / "study" / "study.toml").write_text(STUDY, encoding="utf-8")
    study = open_study(root / "study")
    write_kit_folder(root / "set", _filled(_fast_kit(read_design(study.toml), contract)))
    with patch("rigledger.study.admit.check_apart", check_here):
        result = admit(study, root / "set", received_on=dt.date(2026, 10, 20))
    assert result.check.findings == ()
    return study, result


@pytest.fixture
def admitted(study: StudyFolder, answered: tuple[StudyFolder, AdmitResult]) -> AdmitResult:
    """The study holds the set of `handed_in`."""
    made, result = answered
    shutil.copytree(made.root, study.root, dirs_exist_ok=True)
    return result
