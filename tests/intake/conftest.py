"""A small study and a clean set for it; tests change one thing at a time."""

from __future__ import annotations

import csv
import datetime as dt
import io
import shutil
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

import pytest
import xlsxwriter

from rigledger.intake import csv_read, database, plain_read, table_check, values
from rigledger.study.admit import admit
from rigledger.study.layout import open_study

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.intake.result import CheckResult

STUDY = """
[study]
study = "link-width"
title = "Link width"
question = "Does the change depend on the card's memory?"
setting = "width of the card's link"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 1
material_change_pct = 3
levels_share_sessions = false
metrics = ["average_fps", "low_1pct_rank_fps"]
licence = "CC-BY-4.0"
consent_version = "1"
keywords = ["link width"]

[[authors]]
name = "The maintainers"

[[levels]]
level = "x16"
title = "sixteen lanes"
baseline = true

[[levels]]
level = "x8"
title = "eight lanes"

[[platforms]]
platform = "ostrel-8"
family = "second generation"
processor = "Ostrel 8"
board = "Pinnet B2"
memory_kit = "2 x 16 GB"

[[cards]]
card = "velmar-90"
model = "Velmar 90"
class = "card"
memory_gb = 16

[[workloads]]
workload = "harbour-dawn"
title = "Harbour at Dawn"
kind = "game"
preset = "high"
graphics_api = "api 12"
passage = "from the pier to the lighthouse"
passage_length_s = 60
plausible."1920x1080".average_fps = [20, 400]
plausible."2560x1440".average_fps = [15, 300]

[[workloads]]
workload = "still-room"
title = "Still Room"
kind = "sentinel"
preset = "low"
graphics_api = "api 12"
passage = "an empty room"
passage_length_s = 30

[[plan]]
resolutions = ["1920x1080", "2560x1440"]
workloads = ["harbour-dawn"]

[[sentinels]]
workload = "still-room"
resolution = "1920x1080"
"""

MANIFEST = """[set]
set = "autumn-1"
contributor = "anna"
shown_name = "Anna"
study = "link-width"
licence = "CC-BY-4.0"
consent_version = "1"
utc_offset = "+01:00"
"""

AVERAGES = {
    ("1920x1080", "x16"): ("141.3", "142.1", "140.8"),
    ("1920x1080", "x8"): ("138.9", "139.6", "137.7"),
    ("2560x1440", "x16"): ("98.2", "97.6", "98.9"),
    ("2560x1440", "x8"): ("96.1", "97.3", "96.7"),
}
LOWS = {
    ("1920x1080", "x16"): ("96.4", "97.2", "95.9"),
    ("1920x1080", "x8"): ("94.3", "95.5", "93.8"),
    ("2560x1440", "x16"): ("70.1", "69.3", "70.6"),
    ("2560x1440", "x8"): ("68.7", "69.9", "69.2"),
}


def clean_runs() -> list[dict[str, str]]:
    """Twelve measured runs (a session a level, two resolutions, three passes), four sentinels."""
    rows = []
    for session, level in (("1", "x16"), ("2", "x8")):
        for number in range(6):
            resolution = ("1920x1080", "2560x1440")[number % 2]
            at = number // 2
            rows.append(
                {
                    "rig": "bench",
                    "session": session,
                    "run": f"{number + 1:03}",
                    "workload": "harbour-dawn",
                    "title_build": "1.0.4",
                    "resolution": resolution,
                    "level": level,
                    "level_state": "effective",
                    "level_check": "link status read-out under load",
                    "role": "measured",
                    "reason": "",
                    "pass": str(at + 1),
                    "average_fps": AVERAGES[resolution, level][at],
                    "low_1pct_rank_fps": LOWS[resolution, level][at],
                }
            )
    return rows + [sentinel(session, number) for session in ("1", "2") for number in (7, 8)]


def sentinel(session: str, number: int) -> dict[str, str]:
    """One run of the sentinel; they stand behind the measured runs of both sessions."""
    return {
        "rig": "bench",
        "session": session,
        "run": f"{number:03}",
        "workload": "still-room",
        "title_build": "1.0.4",
        "resolution": "1920x1080",
        "level": {"1": "x16", "2": "x8"}[session],
        "level_state": "effective",
        "level_check": "link status read-out under load",
        "role": "sentinel",
        "reason": "",
        "pass": str(number - 6),
        "average_fps": f"{300 + number / 10 + int(session) / 10:.1f}",
        "low_1pct_rank_fps": f"{210 + number / 5 - int(session) / 10:.1f}",
    }


def clean_sessions() -> list[dict[str, str]]:
    same = {
        "round": "1",
        "started_on": "2026-10-05",
        "firmware_version": "2.14",
        "firmware_date": "2026-08-14",
        "driver_version": "551.10",
        "driver_date": "2026-09-02",
        "card_firmware_version": "96.00.4c",
        "os": "desktop-os 11",
        "os_build": "26100.2314",
        "memory_speed_mts": "6000",
        "profile": "default",
    }
    return [
        {"rig": "bench", "session": "1", "boot": "1"} | same,
        {"rig": "bench", "session": "2", "boot": "2"} | same,
    ]


def clean_rigs() -> list[dict[str, str]]:
    return [
        {
            "rig": "bench",
            "platform": "ostrel-8",
            "card": "velmar-90",
            "platform_unit": "board-1",
            "card_unit": "card-a",
            "hardware_from": "bought",
        }
    ]


def csv_text(rows: list[dict[str, str]], delimiter: str = ",", line_end: str = "\n") -> str:
    stream = io.StringIO(newline="")
    writer = csv.DictWriter(stream, list(rows[0]), delimiter=delimiter, lineterminator=line_end)
    writer.writeheader()
    writer.writerows(rows)
    return stream.getvalue()


@dataclass
class SetMaker:
    """A clean set to change; ``write`` puts it on disk."""

    folder: Path
    manifest: str = MANIFEST
    rigs: list[dict[str, str]] = field(default_factory=clean_rigs)
    sessions: list[dict[str, str]] = field(default_factory=clean_sessions)
    runs: list[dict[str, str]] = field(default_factory=clean_runs)
    files: dict[str, bytes] = field(default_factory=dict)
    delimiter: str = ","
    line_end: str = "\n"

    def change(self, changes: list[dict[str, Any]]) -> SetMaker:
        """Apply changes as schema/rules/<code>.toml states them."""
        for change in changes:
            self._change(change)
        return self

    def _change(self, change: dict[str, Any]) -> None:
        table = change["table"]
        if table == "set":
            for key, value in change["set"].items():
                lines = [
                    line for line in self.manifest.splitlines() if not line.startswith(f"{key} =")
                ]
                self.manifest = "\n".join([lines[0], f'{key} = "{value}"', *lines[1:]]) + "\n"
            return
        if table in {"platforms", "cards"}:
            lines = [f'{key} = "{value}"' for key, value in change["add"].items()]
            self.manifest += "\n".join(["", f"[[{table}]]", *lines, ""])
            return
        rows = getattr(self, table)
        if "add" in change:
            rows.append(rows[0] | change["add"])
            return
        wanted = change["where"].items()
        chosen = [row for row in rows if all(row.get(key) == value for key, value in wanted)]
        assert chosen, f"no row of {table} fits {change['where']}"
        if change.get("drop"):
            rows[:] = [row for row in rows if row not in chosen]
            return
        for key in change["set"]:
            for row in rows:
                row.setdefault(key, "")
        for row in chosen:
            row.update(change["set"])

    def write_workbook(
        self,
        path: Path,
        numbers: tuple[str, ...] = ("average_fps", "low_1pct_rank_fps"),
        spoil: Callable[[Any], None] | None = None,
    ) -> Path:
        """Write the set as a filled kit: everything as text but the named columns.

        ``spoil`` gets the sheet ``runs`` at the end, with a format as its ``book_format``.
        """
        book = xlsxwriter.Workbook(str(path))
        sheet = book.add_worksheet("set")
        keys = [line.split(" = ") for line in self.manifest.splitlines() if " = " in line]
        for row, (key, value) in enumerate(keys):
            sheet.write_row(row, 0, [key, value.strip('"')])
        for name in ("rigs", "sessions", "runs"):
            sheet = book.add_worksheet(name)
            _fill(sheet, getattr(self, name), numbers)
        if spoil is not None:
            sheet.book_format = book.add_format({"bold": True})
            spoil(sheet)
        book.add_worksheet("lists").write_string(0, 0, "for the drop-downs")
        book.close()
        return path

    def write(self) -> Path:
        self.folder.mkdir(parents=True, exist_ok=True)
        (self.folder / "result-set.toml").write_text(self.manifest, encoding="utf-8")
        for name in ("rigs", "sessions", "runs"):
            text = csv_text(getattr(self, name), self.delimiter, self.line_end)
            (self.folder / f"{name}.csv").write_bytes(text.encode("utf-8"))
        for name, data in self.files.items():
            target = self.folder / name
            target.parent.mkdir(parents=True, exist_ok=True)
            target.write_bytes(data)
        return self.folder


def _fill(sheet: Any, rows: list[dict[str, str]], numbers: tuple[str, ...]) -> None:  # noqa: ANN401
    for column, header in enumerate(rows[0]):
        sheet.write_string(0, column, header)
        for number, row in enumerate(rows, start=1):
            if header in numbers and row[header]:
                sheet.write_number(number, column, float(row[header]))
            elif row[header]:
                sheet.write_string(number, column, row[header])


@pytest.fixture(scope="session")
def study_text() -> str:
    return STUDY


@pytest.fixture
def study(tmp_path: Path) -> Path:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "study.toml").write_text(STUDY, encoding="utf-8")
    return folder


@pytest.fixture
def made(tmp_path: Path) -> SetMaker:
    return SetMaker(tmp_path / "handed-in")


@pytest.fixture
def places() -> Callable[[Any], list[tuple[Any, ...]]]:
    """Gives the findings of a result as (rule, file, row, column, value)."""

    def of(result: Any) -> list[tuple[Any, ...]]:  # noqa: ANN401
        return [(f.rule, f.file, f.row, f.column, f.value) for f in result.findings]

    return of


@pytest.fixture(scope="module")
def once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder that keeps a study as it is after an admission that many tests begin with."""
    return tmp_path_factory.mktemp("once") / "study"


@pytest.fixture
def admit_here(monkeypatch: pytest.MonkeyPatch, check_here: Callable[..., CheckResult]) -> None:
    """Let an admission check its set in the test's own process."""
    monkeypatch.setattr("rigledger.study.admit.check_apart", check_here)


@pytest.fixture
def admit_once(
    study: Path, once: Path, check_here: Callable[..., CheckResult]
) -> Callable[[Path], None]:
    """Admit a set into the study; what the first of a module's tests has done is copied."""

    def take(folder: Path) -> None:
        if once.exists():
            shutil.copytree(once, open_study(study).root, dirs_exist_ok=True)
            return
        with patch("rigledger.study.admit.check_apart", check_here):
            assert admit(open_study(study), folder, received_on=dt.date(2026, 10, 20)).admitted
        shutil.copytree(open_study(study).root, once)

    return take


@pytest.fixture
def take_for_long(monkeypatch: pytest.MonkeyPatch) -> Callable[[], None]:
    """Lets every set be dealt with as one of a million runs is, from when it is called on."""

    def take() -> None:
        for module in (table_check, values, csv_read):
            monkeypatch.setattr(module, "LONG", 1)
        monkeypatch.setattr(csv_read, "_LONG_FILE", 1)
        monkeypatch.setattr(database, "_SMALL", 1)
        monkeypatch.setattr(plain_read, "MOST_ODD", 1)

    return take
