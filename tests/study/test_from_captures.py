"""A folder of captures is enough: names say what was run, and only the frame times are copied."""

from __future__ import annotations

import datetime as dt
import gzip
import random
import shutil
from dataclasses import replace
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.errors import StudyError
from rigledger.files import hashes_below
from rigledger.intake.check import check_set
from rigledger.intake.file_names import PatternError, compiled_pattern
from rigledger.study import kit_model
from rigledger.study.admit import admit
from rigledger.study.from_captures import CaptureFiles, kit_from_captures
from rigledger.study.load import load_source
from rigledger.study.sheet import rigs_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.contract import Contract
    from rigledger.study.kit_model import Kit
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design

    Edit = Callable[[Path, Callable[[dict[str, str]], dict[str, str] | None]], None]

PATTERN = "{session}/{workload}_{resolution}_{level}_{pass}.csv"
TESTER = kit_model.Tester("anna", "autumn-1", "Anna")


def _log(path: Path, seed: int, mean_ms: float) -> None:
    """Write 31 s of frame times as a logger would: with a user's name beside each."""
    draw = random.Random(seed)  # noqa: S311 - made-up frame times
    lines = ["user;frame number;ms between frames"]
    left, number = 31_000.0, 0
    while left > 0:
        took = round(draw.lognormvariate(0, 0.12) * mean_ms, 4)
        number += 1
        left -= took
        lines.append(f"Anna Smith;{number};{took}")
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture
def logs(tmp_path: Path) -> Path:
    folder = tmp_path / "logs"
    for session, level, mean in (("1", "x16", 8.0), ("2", "x8", 8.4)):
        for number in (1, 2, 3):
            name = f"salt-road_1920x1080_{level}_{number}.csv"
            _log(folder / session / name, 10 * int(session) + number, mean)
    return folder


@pytest.fixture
def files(logs: Path) -> CaptureFiles:
    return CaptureFiles(logs, PATTERN, "ms between frames", "ms", delimiter=";")


@pytest.fixture
def make(
    files: CaptureFiles, design: Design, contract: Contract, tmp_path: Path
) -> Callable[[], Kit]:
    def made() -> Kit:
        rigs = rigs_of(design, cards=["slow"])
        out = tmp_path / "set"
        return kit_from_captures(files, out, design, contract, rigs=rigs, tester=TESTER)

    return made


def _type_in(folder: Path, edit: Edit) -> None:
    edit(
        folder / "rigs.csv",
        lambda row: row | {"platform_unit": "a", "card_unit": "b", "hardware_from": "bought"},
    )
    edit(
        folder / "sessions.csv",
        lambda row: (
            row
            | {
                "started_on": f"2026-10-0{row['boot']}",
                "firmware_version": "2.14",
                "driver_version": "551.10",
                "card_firmware_version": "none",
                "os": "desktop-os 11",
                "os_build": "26100.1",
                "profile": "default",
            }
        ),
    )
    edit(folder / "runs.csv", lambda row: row | {"title_build": "1.0", "level_state": "effective"})


def test_the_runs_follow_from_the_names(make: Callable[[], Kit]) -> None:
    kit = make()
    rows = [
        (row["session"], row["run"], row["level"], row["pass"], row["capture_file"])
        for row in kit.table("runs").rows
    ]
    assert rows == [
        ("1", "001", "x16", 1, "captures/p1-slow_1_001.csv"),
        ("1", "002", "x16", 2, "captures/p1-slow_1_002.csv"),
        ("1", "003", "x16", 3, "captures/p1-slow_1_003.csv"),
        ("2", "001", "x8", 1, "captures/p1-slow_2_001.csv"),
        ("2", "002", "x8", 2, "captures/p1-slow_2_002.csv"),
        ("2", "003", "x8", 3, "captures/p1-slow_2_003.csv"),
    ]
    windows = {(row["capture_from_s"], row["capture_for_s"]) for row in kit.table("runs").rows}
    assert windows == {(0.0, 30.0)}


def test_nothing_but_the_declared_column_is_copied(
    make: Callable[[], Kit], tmp_path: Path, logs: Path
) -> None:
    make()
    copied = (tmp_path / "set" / "captures" / "p1-slow_1_001.csv").read_text(encoding="utf-8")
    original = (logs / "1" / "salt-road_1920x1080_x16_1.csv").read_text(encoding="utf-8")
    assert copied.splitlines()[0] == "frame_time"
    assert copied.splitlines()[1:] == [line.split(";")[2] for line in original.splitlines()[1:]]
    assert all(
        "Smith" not in path.read_text(encoding="utf-8")
        for path in (tmp_path / "set").rglob("*")
        if path.is_file()
    )


def test_the_set_is_admitted_recomputed_and_restored_where_the_store_was_not_kept(
    make: Callable[[], Kit], edit: Edit, study: StudyFolder, tmp_path: Path
) -> None:
    make()
    _type_in(tmp_path / "set", edit)
    checked = check_set(tmp_path / "set", study.root)
    assert [finding for finding in checked.findings if finding.severity == "error"] == []
    assert admit(study, tmp_path / "set", received_on=dt.date(2026, 10, 20)).admitted
    assert len(list(study.captures.iterdir())) == 6
    first = _recomputed(study)
    assert len(first) == 6
    assert all(
        value == pytest.approx(121 if number < 3 else 115, rel=0.05)
        for number, value in enumerate(first)
    )
    shutil.rmtree(study.captures)
    assert _recomputed(study) == first
    assert len(list(study.captures.iterdir())) == 6


def _recomputed(study: StudyFolder) -> list[float]:
    with duckdb.connect() as con:
        load_source(study, con)
        query = (
            "select value from measurements where origin = 'recomputed' and metric = 'average_fps'"
            " order by run"
        )
        return [value for (value,) in con.execute(query).fetchall()]


@pytest.mark.parametrize(
    ("pattern", "said"),
    [
        ("{workload}_{resolution}_{pass}.csv", "{level} is missing"),
        ("{title}_{workload}_{resolution}_{level}_{pass}.csv", "no part {title}"),
        ("{pass}_{pass}_{workload}_{resolution}_{level}.csv", "{pass} stands there twice"),
    ],
)
def test_a_pattern_that_does_not_say_enough_is_refused(pattern: str, said: str) -> None:
    with pytest.raises(PatternError) as raised:
        compiled_pattern(pattern)
    assert said in raised.value.message


def test_a_pattern_is_taken_literally_but_for_its_parts() -> None:
    pattern = compiled_pattern("a.b_{workload}_{resolution}_{level}_{pass}.csv")
    assert pattern.fullmatch("a.b_salt-road_1x1_x8_1.csv")
    assert not pattern.fullmatch("aXb_salt-road_1x1_x8_1.csv")


@pytest.mark.parametrize(
    ("old", "new", "column"),
    [
        ("salt-road", "salt-raod", "workload"),
        ("_x8_", "_x9_", "level"),
        ("1920x1080", "1080p", "resolution"),
        ("_3.csv", "_0.csv", "pass"),
        ("_3.csv", "_three.csv", "pass"),
    ],
)
def test_a_file_name_that_does_not_fit_the_study_is_named(
    make: Callable[[], Kit], logs: Path, tmp_path: Path, *, old: str, new: str, column: str
) -> None:
    path = next(path for path in sorted(logs.rglob("*.csv")) if old in path.name)
    path.rename(path.with_name(path.name.replace(old, new)))
    with pytest.raises(StudyError) as raised:
        make()
    assert raised.value.column == column
    assert new in str(raised.value.file)
    assert not (tmp_path / "set").exists()


def test_a_missing_column_is_named_with_the_nearest_and_nothing_is_left(
    make: Callable[[], Kit], logs: Path, tmp_path: Path
) -> None:
    path = logs / "2" / "salt-road_1920x1080_x8_3.csv"
    text = path.read_text(encoding="utf-8").replace("ms between frames", "ms between frame")
    path.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match="did you mean 'ms between frame'"):
        make()
    assert sorted(path.name for path in tmp_path.iterdir()) == ["logs", "study"]


def test_no_matching_file_shows_what_is_there(
    files: CaptureFiles, design: Design, contract: Contract, tmp_path: Path
) -> None:
    from dataclasses import replace

    flat = replace(files, pattern="{workload}_{resolution}_{level}_{pass}.csv")
    rigs = rigs_of(design, cards=["slow"])
    with pytest.raises(StudyError, match=r"salt-road_1920x1080_x16_1\.csv"):
        kit_from_captures(flat, tmp_path / "set", design, contract, rigs=rigs, tester=TESTER)


def test_packed_captures_make_the_same_set(
    files: CaptureFiles, design: Design, contract: Contract, tmp_path: Path
) -> None:
    rigs = rigs_of(design, cards=["slow"])
    kit_from_captures(files, tmp_path / "plain", design, contract, rigs=rigs, tester=TESTER)
    for path in files.folder.rglob("*.csv"):
        path.with_name(f"{path.name}.gz").write_bytes(gzip.compress(path.read_bytes()))
        path.unlink()
    packed = replace(files, pattern=f"{PATTERN}.gz")
    kit_from_captures(packed, tmp_path / "packed", design, contract, rigs=rigs, tester=TESTER)
    assert hashes_below(tmp_path / "packed") == hashes_below(tmp_path / "plain")


UNREADABLE = {
    "cut short": (".csv.gz", gzip.compress(b"ms between frames\n8\n")[:-9], "ended"),
    "no gzip": (".csv.gz", b"no gzip", "Not a gzipped file"),
    "another encoding": (".csv", b"ms between frames\n\xff\xfe\n", "can't decode"),
}


@pytest.mark.parametrize("case", UNREADABLE)
def test_a_capture_that_can_not_be_read_is_named_and_leaves_no_set(
    tmp_path: Path, design: Design, contract: Contract, case: str
) -> None:
    ending, data, said = UNREADABLE[case]
    folder = tmp_path / "logs" / "1"
    folder.mkdir(parents=True)
    (folder / f"salt-road_1920x1080_x16_1{ending}").write_bytes(data)
    pattern = PATTERN.replace(".csv", ending)
    files = CaptureFiles(folder.parent, pattern, "ms between frames", "ms")
    with pytest.raises(StudyError, match=f"can't be read: .*{said}") as caught:
        kit_from_captures(
            files, tmp_path / "set", design, contract,
            rigs=rigs_of(design, cards=["slow"]), tester=TESTER,
        )  # fmt: skip
    assert caught.value.file == f"salt-road_1920x1080_x16_1{ending}"
    assert sorted(path.name for path in tmp_path.iterdir() if path.name != "study") == ["logs"]
