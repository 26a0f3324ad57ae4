"""From a study on disk to releases and their register."""

from __future__ import annotations

import datetime as dt
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.files import files_below, sha256_of
from rigledger.release.errors import ReleaseError
from rigledger.release.publish import release
from rigledger.release.recheck import recheck
from rigledger.release.register import read_register
from rigledger.study.admit import admit
from rigledger.study.layout import StudyFolder, open_study

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigledger.release.write import ReleaseResult

DAY = dt.date(2026, 11, 25)
DATASETS = Path(__file__).resolve().parents[2] / "datasets"
SET = """\
[set]
set = "autumn-{number}"
contributor = "anna"
shown_name = "Anna"
study = "link-try"
licence = "CC-BY-4.0"
consent_version = "1"
{further}

[same_for_all_runs]
title_build = "1.4"
resolution = "1920x1080"
level_state = "effective"
role = "measured"
"""
RIGS = "rig,platform,card,platform_unit,card_unit,hardware_from\np1,{platform},{card},a,a,bought\n"
SESSIONS = (
    "rig,session,boot,round,started_on,firmware_version,driver_version,card_firmware_version,os,"
    "os_build,profile\np1,{session},{session},1,2026-10-05,1.20,551.10,unknown,Fennel 12,12.4,"
    "default\n"
)


def runs(session: int, shift: float) -> str:
    lines = ["rig,session,run,workload,level,pass,average_fps,low_1pct_rank_fps"]
    number = 0
    for workload, base in (("harbour-dawn", 160.0), ("tall-grass", 90.0)):
        for level, factor in (("wide", 1.0), ("narrow", 0.9)):
            for place, nudge in enumerate((-0.31, 0.12, 0.27), start=1):
                number += 1
                value = round(base * factor + nudge + shift, 2)
                cells = ("p1", session, f"{number:03}", workload, level, place, value)
                lines.append(",".join(str(cell) for cell in (*cells, round(value * 0.7, 2))))
    return "\n".join(lines) + "\n"


@pytest.fixture
def study(tmp_path: Path, study_text: str) -> StudyFolder:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "study.toml").write_text(study_text, encoding="utf-8")
    return open_study(folder)


@pytest.fixture
def hand_in(study: StudyFolder, tmp_path: Path) -> Callable[..., None]:
    def hand(number: int, *, further: str = "", shift: float = 0.0) -> None:
        folder = tmp_path / f"handed-{number}"
        folder.mkdir()
        texts = {
            "result-set.toml": SET.format(number=number, further=further),
            "rigs.csv": RIGS.format(platform="brookfield-k4", card="velmar-90"),
            "sessions.csv": SESSIONS.format(session=number),
            "runs.csv": runs(number, shift),
        }
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8")
        result = admit(study, folder, received_on=dt.date(2026, 10, 20))
        assert result.admitted, result.check.findings

    return hand


def publish(study: StudyFolder, **more: object) -> ReleaseResult:
    return release(study, **({"released_on": DAY} | more))


@pytest.mark.slow
def test_releases_follow_each_other_in_the_register(
    study: StudyFolder, hand_in: Callable[..., None], tmp_path: Path
) -> None:
    hand_in(1)
    first = publish(study)
    assert (first.version, first.folder.name) == ("1.0.0", "link-try-1.0.0")
    hand_in(2, shift=0.4)
    second = publish(study, identifier="10.1234/example")
    assert second.version == "1.1.0"
    known = read_register(study.releases)
    assert [(held.version, held.status) for held in known] == [
        ("1.0.0", "superseded"), ("1.1.0", "published"),
    ]  # fmt: skip
    assert known[1].previous_fingerprint == first.fingerprint == known[0].fingerprint
    assert [held.set_id for held in known[1].sets] == ["anna.autumn-1", "anna.autumn-2"]
    for checked in (recheck(second.folder), recheck(second.folder, previous=first.folder)):
        assert (checked.verdict, checked.differences) == ("as_published", ())
    moved = tmp_path / "elsewhere"
    shutil.move(first.folder.parent, moved)
    with pytest.raises(ReleaseError, match="is not there"):
        publish(study)
    path = moved / "link-try-1.1.0" / "data" / "rigs.csv"
    path.write_bytes(path.read_bytes() + b"\n")
    with pytest.raises(ReleaseError, match=r"1\.1\.0.*was altered"):
        publish(study, previous=moved)


@pytest.mark.slow
def test_a_set_that_states_an_embargo_leaves_no_trace(
    study: StudyFolder, hand_in: Callable[..., None]
) -> None:
    hand_in(1)
    hand_in(2, further="embargo_until = 2027-01-15", shift=0.4)
    folder = publish(study).folder
    con = duckdb.connect()
    for table, column in (("sets", "set_id"), ("sessions", "session")):
        rows = con.execute(f"SELECT {column} FROM '{folder}/data/{table}.csv'").fetchall()
        assert len(rows) == 1
    assert all(b"autumn-2" not in (folder / name).read_bytes() for name in files_below(folder))


@pytest.mark.slow
def test_the_measured_study_is_released_the_same_twice_and_its_captures_are_rechecked(
    tmp_path: Path,
) -> None:
    results = []
    for threads in (1, 2):
        copy = tmp_path / f"threads-{threads}"
        shutil.copytree(
            DATASETS / "driver-threading", copy, ignore=shutil.ignore_patterns("releases")
        )
        results.append(publish(open_study(copy), threads=threads))
    one, other = results
    assert one.fingerprint == other.fingerprint
    assert recheck(one.folder).verdict == "as_published"
    capture = min((one.folder / "captures").iterdir())
    before = sha256_of(capture)
    con = duckdb.connect()
    con.execute(f"CREATE TABLE t AS FROM '{capture}'")
    con.execute("UPDATE t SET frame_ns = frame_ns + 1 WHERE rowid = 0")
    con.execute(f"COPY t TO '{capture}' (FORMAT parquet)")
    assert sha256_of(capture) != before
    named = [held for held in recheck(one.folder).differences if held.file.endswith(capture.name)]
    assert [(held.kind, held.says.split(" ", 1)[1]) for held in named] == [
        ("altered", "has other bytes than SHA256SUMS records"),
        ("altered", "frame times have another hash than the file's name"),
    ]
