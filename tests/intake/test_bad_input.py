# ruff: noqa: ANN401 - fixtures are known by their names
"""Bad input from a clean set of the demonstration study link-width.

Each test states everything that the check finds, with its place: one finding a mistake. And it
holds the study's files against what they were before.
"""

from __future__ import annotations

import csv
import stat
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.files import sha256sums
from rigledger.intake.check import check_set
from rigledger.intake.normalise import load_set
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from collections.abc import Callable

LINK_WIDTH = Path(__file__).resolve().parents[2] / "datasets" / "link-width"
SET = LINK_WIDTH / "sets" / "bench.autumn-ostrevik"
RIG = "q1-52"
MANIFEST = """[set]
set = "one-rig"
contributor = "bench"
shown_name = "The demonstration bench"
study = "link-width"
licence = "CC-BY-4.0"
consent_version = "1"
utc_offset = "+00:00"
"""
VERSIONS = {
    "driver_version": "551.10",
    "card_firmware_version": "B1.07",
    "os": "Plinth Desktop 9",
    "os_build": "9.4.1180",
    "profile": "default",
}
CAPTURES = '\n[captures]\nframe_time_column = "frame_ms"\nunit = "ms"\n'

Place = tuple[str, str, int | None, str | None, str | None]
Check = "Callable[[Path], list[Place]]"


def rows_of(name: str) -> list[dict[str, str]]:
    with (SET / f"{name}.csv").open(encoding="utf-8", newline="") as stream:
        return [row for row in csv.DictReader(stream) if row["rig"] == RIG]


@pytest.fixture(scope="module")
def one_rig() -> dict[str, list[dict[str, str]]]:
    """One rig of the set: four sessions, 96 measured runs in 32 cells, 8 sentinels."""
    tables = {name: rows_of(name) for name in ("rigs", "sessions", "runs")}
    for session in tables["sessions"]:
        session.update(VERSIONS)
    for run in tables["runs"]:
        run["level_check"] = "link status read-out under load"
    return tables


@pytest.fixture
def bad(made: Any, one_rig: dict[str, list[dict[str, str]]]) -> Any:
    """The clean set, to be spoiled."""
    made.manifest = MANIFEST
    for name, rows in one_rig.items():
        setattr(made, name, [dict(row) for row in rows])
    return made


@pytest.fixture
def check(tmp_path: Path) -> Callable[[Path], list[Place]]:
    """Checks a set against the study and sees to it that no byte of the study changes."""
    folder = tmp_path / "link-width"
    folder.mkdir()
    (folder / "study.toml").write_bytes((LINK_WIDTH / "study.toml").read_bytes())

    def of(path: Path) -> list[Place]:
        before = sha256sums(folder)
        findings = check_set(path, folder).findings
        assert sha256sums(folder) == before
        assert all(finding.reason and finding.next_step for finding in findings)
        return [(f.rule, f.file, f.row, f.column, f.value) for f in findings]

    return of


def test_the_set_to_spoil_is_clean(bad: Any, check: Any) -> None:
    assert [] == check(bad.write())


def test_averages_given_in_milliseconds(bad: Any, check: Any) -> None:
    for run in bad.runs:
        run["average_fps"] = f"{1000 / float(run['average_fps']):.2f}"
    assert [
        ("looks_like_milliseconds", "runs.csv", row, "average_fps", str(float(run["average_fps"])))
        for row, run in enumerate(bad.runs, start=2)
    ] == check(bad.write())


def test_cells_that_are_no_values_and_a_missing_driver(bad: Any, check: Any) -> None:
    bad.sessions[1]["driver_version"] = ""
    bad.runs[1]["average_fps"] = "NaN"
    bad.runs[2]["average_fps"] = "1e400"
    bad.runs[3] |= {"pass": "59.6"}
    bad.runs[4]["low_1pct_rank_fps"] = "5o.1"
    assert [
        ("type_spelling", "runs.csv", 3, "average_fps", "NaN"),
        ("out_of_bounds", "runs.csv", 4, "average_fps", "1e400"),
        ("type_spelling", "runs.csv", 5, "pass", "59.6"),
        ("type_spelling", "runs.csv", 6, "low_1pct_rank_fps", "5o.1"),
        ("required_missing", "sessions.csv", 3, "driver_version", None),
    ] == check(bad.write())


def test_two_runs_instead_of_three_and_a_low_above_its_average(bad: Any, check: Any) -> None:
    first, low = bad.runs[1], bad.runs[2]
    same = ("workload", "resolution", "level")
    cell = [row for row in bad.runs if all(row[name] == first[name] for name in same)]
    bad.runs.remove(cell[1])
    low["average_fps"] = "60.1"
    assert [
        ("too_few_runs", "runs.csv", 3, "run", "2"),
        ("average_below_low", "runs.csv", 4, "average_fps", "60.1"),
    ] == check(bad.write())


def test_an_unknown_metric(bad: Any, check: Any) -> None:
    for run in bad.runs:
        run["low_0_1pct_fps"] = "21.5"
    assert [("unknown_metric", "runs.csv", 1, "low_0_1pct_fps", None)] == check(bad.write())


def test_an_unknown_rig_a_duplicate_run_and_a_level_called_unsupported(
    bad: Any, check: Any
) -> None:
    bad.runs[1]["level_state"] = "unsupported"
    bad.runs[7]["rig"] = "q1-25"
    bad.runs.append(bad.runs[2] | {"run": "900", "started_at": ""})
    assert [
        ("level_unsupported", "runs.csv", 3, "level_state", "unsupported"),
        ("unknown_rig", "runs.csv", 9, "rig", "q1-25"),
        ("duplicate_run", "runs.csv", 106, "pass", "1"),
    ] == check(bad.write())


@pytest.mark.parametrize("kind", ["csv", "text cells"])
def test_a_version_keeps_its_last_zero(bad: Any, check: Any, tmp_path: Path, kind: str) -> None:
    path = bad.write() if kind == "csv" else bad.write_workbook(tmp_path / "kit.xlsx")
    assert [] == check(path)
    with duckdb.connect() as con:
        create_tables(con, load_contract().group("source"))
        load_set(con, path, None)
        found = con.execute("SELECT DISTINCT driver_version, os_build FROM stacks").fetchall()
    assert [("551.10", "9.4.1180")] == found


def test_a_version_in_a_number_cell_is_its_own_finding(
    bad: Any, check: Any, tmp_path: Path
) -> None:
    numbers = ("driver_version", "average_fps", "low_1pct_rank_fps")
    assert [
        ("number_in_version_column", "kit.xlsx: sessions", row, "driver_version", "551.1")
        for row in (2, 3, 4, 5)
    ] == check(bad.write_workbook(tmp_path / "kit.xlsx", numbers))


def test_an_empty_file(bad: Any, check: Any) -> None:
    folder = bad.write()
    (folder / "runs.csv").write_bytes(b"")
    assert [("empty_file", "runs.csv", None, None, None)] == check(folder)


@pytest.mark.parametrize("table", ["rigs", "sessions", "runs"])
def test_a_file_with_only_a_header(bad: Any, check: Any, table: str) -> None:
    folder = bad.write()
    path = folder / f"{table}.csv"
    path.write_bytes(path.read_bytes().split(b"\n")[0] + b"\n")
    assert [("no_rows", f"{table}.csv", 1, None, None)] == check(folder)


def capture(average: float, low: float, seconds: float) -> bytes:
    """Frame times of a run: each fiftieth frame is slow, so the 99th percentile is a slow one."""
    slow = 1000 / low
    usual = (50 * 1000 / average - slow) / 49
    frames = round(seconds * average)
    lines = (f"{slow if n % 50 == 0 else usual:.6f}\n" for n in range(frames))
    return b"frame_ms\n" + "".join(lines).encode()


def test_captures_that_agree_are_missing_disagree_or_are_too_short(bad: Any, check: Any) -> None:
    bad.manifest += CAPTURES
    of_run = {
        3: capture(90.4, 71.4, 60),
        5: capture(101.7, 80.2, 60),
        6: capture(77.3, 60.2, 60),
        7: capture(94.1, 69.9, 30),
    }
    bad.files = {f"captures/{row}.csv": data for row, data in of_run.items()}
    for row, run in enumerate(bad.runs, start=2):
        run["capture_file"] = f"captures/{row}.csv" if row in {*of_run, 4} else ""
    assert [
        ("capture_missing", "runs.csv", 4, "capture_file", "captures/4.csv"),
        ("capture_disagrees", "runs.csv", 5, "capture_file", "captures/5.csv"),
        ("capture_disagrees", "runs.csv", 6, "low_1pct_rank_fps", "53.9"),
        ("passage_length_differs", "runs.csv", 7, "capture_file", "captures/7.csv"),
    ] == check(bad.write())


def packed(folder: Path, path: Path) -> zipfile.ZipFile:
    archive = zipfile.ZipFile(path, "w")
    for item in sorted(folder.iterdir()):
        archive.write(item, item.name)
    return archive


def test_a_zip_that_leads_out_of_the_set(bad: Any, check: Any, tmp_path: Path) -> None:
    with packed(bad.write(), tmp_path / "set.zip") as archive:
        archive.writestr("../link-width/study.toml", "[study]\n")
    assert [("name_outside_set", "set.zip: ../link-width/study.toml", None, None, None)] == check(
        tmp_path / "set.zip"
    )


def test_a_zip_that_holds_a_link(bad: Any, check: Any, tmp_path: Path) -> None:
    with packed(bad.write(), tmp_path / "set.zip") as archive:
        link = zipfile.ZipInfo("more.csv")
        link.external_attr = (stat.S_IFLNK | 0o777) << 16
        archive.writestr(link, "../link-width/study.toml")
    assert [("link_in_set", "set.zip: more.csv", None, None, None)] == check(tmp_path / "set.zip")


def test_a_zip_with_a_damaged_entry(bad: Any, check: Any, tmp_path: Path) -> None:
    path = tmp_path / "set.zip"
    packed(bad.write(), path).close()
    path.write_bytes(path.read_bytes().replace(b"q1-52,1,003,", b"q1-52,1,008,"))
    assert [("archive_damaged", "set.zip: runs.csv", None, None, None)] == check(path)
