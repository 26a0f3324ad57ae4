"""From a study on disk to releases and their register."""

from __future__ import annotations

import datetime as dt
import json
import shutil
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.files import files_below, sha256_of
from rigledger.release.errors import ReleaseError
from rigledger.release.publish import release
from rigledger.release.published import derived_tables, source_tables
from rigledger.release.reach import restrict
from rigledger.release.recheck import recheck
from rigledger.release.register import read_register
from rigledger.study.admit import admit, withdraw
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.load import load_source
from rigledger.tables.build import build_tables
from rigledger.tabular import write_csv

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


CORRECTION = """\
[[corrections]]
correction = "typing-slip"
session = "anna.p1.1"
run = "anna.p1.1.001"
metric = "average_fps"
action = "replace"
was = "159.69"
becomes = "159.96"
reason = "digits swapped"
decided_on = 2026-11-25
status = "applied"
"""


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


def write_set(folder: Path, number: int, *, further: str = "", shift: float = 0.0) -> Path:
    texts = {
        "result-set.toml": SET.format(number=number, further=further),
        "rigs.csv": RIGS.format(platform="brookfield-k4", card="velmar-90"),
        "sessions.csv": SESSIONS.format(session=number),
        "runs.csv": runs(number, shift),
    }
    folder.mkdir()
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


@pytest.fixture
def study(tmp_path: Path, study_text: str) -> StudyFolder:
    folder = tmp_path / "study"
    folder.mkdir()
    (folder / "study.toml").write_text(study_text, encoding="utf-8")
    return open_study(folder)


@pytest.fixture
def hand_in(study: StudyFolder, tmp_path: Path) -> Callable[..., None]:
    def hand(number: int, *, further: str = "", shift: float = 0.0) -> None:
        hand_to(study, tmp_path / f"handed-{number}", number, further=further, shift=shift)

    return hand


def hand_to(study: StudyFolder, folder: Path, number: int, **more: Any) -> None:  # noqa: ANN401
    result = admit(study, write_set(folder, number, **more), received_on=dt.date(2026, 10, 20))
    assert result.admitted, result.check.findings


@pytest.fixture(scope="module")
def made_before() -> list[tuple[StudyFolder, ReleaseResult, ReleaseResult]]:
    """Hold what `grown` made for the first test that asked for it."""
    return []


@pytest.fixture
def grown(
    made_before: list[tuple[StudyFolder, ReleaseResult, ReleaseResult]],
    tmp_path_factory: pytest.TempPathFactory,
    study_text: str,
    tmp_path: Path,
) -> tuple[StudyFolder, ReleaseResult, ReleaseResult]:
    """Copy a study that was released with one set, and again with two; and both releases."""
    if not made_before:
        root = tmp_path_factory.mktemp("grown")
        (root / "study").mkdir()
        (root / "study" / "study.toml").write_text(study_text, encoding="utf-8")
        study = open_study(root / "study")
        hand_to(study, root / "handed-1", 1)
        first = publish(study)
        hand_to(study, root / "handed-2", 2, shift=0.4)
        made_before.append((study, first, publish(study, identifier="10.1234/example")))
    study, *made = made_before[0]
    copy = open_study(shutil.copytree(study.root, tmp_path / "study"))
    first, second = (replace(one, folder=copy.published / one.folder.name) for one in made)
    return copy, first, second


def publish(study: StudyFolder, **more: object) -> ReleaseResult:
    return release(study, **({"released_on": DAY} | more))


@pytest.mark.slow
def test_releases_follow_each_other_in_the_register(
    grown: tuple[StudyFolder, ReleaseResult, ReleaseResult], tmp_path: Path
) -> None:
    study, first, second = grown
    assert (first.version, first.folder.name) == ("1.0.0", "link-try-1.0.0")
    assert second.version == "1.1.0"
    known = read_register(study.releases)
    assert [(held.version, held.status) for held in known] == [
        ("1.0.0", "superseded"), ("1.1.0", "published"),
    ]  # fmt: skip
    assert known[1].previous_fingerprint == first.fingerprint == known[0].fingerprint
    assert [held.set_id for held in known[1].sets] == ["anna.autumn-1", "anna.autumn-2"]
    for checked in (recheck(second.folder), recheck(second.folder, previous=first.folder)):
        assert (checked.verdict, checked.differences) == ("as_published", ())
    bands = drift_of(second.folder)
    assert bands["drift.median_change_pct.narrow-against-wide.average_fps"] is True
    assert bands["drift.turned_pct"] is True
    assert {name.split(".")[1] for name in bands} == {
        "median_spread_pct", "without_verdict_pct", "median_change_pct", "turned_pct",
    }  # fmt: skip
    moved = tmp_path / "elsewhere"
    shutil.move(first.folder.parent, moved)
    with pytest.raises(ReleaseError, match="is not there"):
        publish(study)
    path = moved / "link-try-1.1.0" / "data" / "rigs.csv"
    path.write_bytes(path.read_bytes() + b"\n")
    with pytest.raises(ReleaseError, match=r"1\.1\.0.*was altered"):
        publish(study, previous=moved)


def drift_of(release: Path) -> dict[str, bool]:
    results = json.loads((release / "quality" / "results.json").read_text(encoding="utf-8"))
    return {
        held["name"]: held["met"]
        for held in results["results"]
        if held["name"].startswith("drift.")
    }


@pytest.mark.slow
def test_a_withdrawn_set_and_a_correction_are_told_with_what_they_took(
    grown: tuple[StudyFolder, ReleaseResult, ReleaseResult], tmp_path: Path
) -> None:
    study, _, before = grown
    packed = Path(shutil.make_archive(str(tmp_path / "before"), "zip", before.folder))
    shutil.rmtree(before.folder)
    withdraw(study, "anna.autumn-2", on=DAY, reason="the card was lent, and is asked back")
    study.corrections.write_text(CORRECTION, encoding="utf-8")
    after = publish(study, previous=packed)
    assert after.version == "2.0.0"
    text = (after.folder / "CHANGES.md").read_text(encoding="utf-8")
    assert "- Set anna.autumn-2 is withdrawn, 12 runs with it: the card was lent, and is" in text
    assert (
        "- Correction typing-slip (applied, 2026-11-25): replace value from 159.69 to 159.96 in "
        "anna.p1.1, anna.p1.1.001, average\\_fps, because digits swapped"
    ) in text
    con = duckdb.connect()
    changes = f"read_csv('{after.folder / 'changes.csv'}', all_varchar = true)"
    rows = con.execute(
        f"select because, change, count(*) from {changes} "
        "where \"table\" in ('runs', 'measurements') group by all order by all"
    ).fetchall()
    assert rows == [
        ("correction typing-slip", "changed", 1),
        ("set anna.autumn-2 withdrawn", "removed", 12 + 24),
    ]
    unexplained = [
        held["met"]
        for held in json.loads((after.folder / "quality" / "results.json").read_bytes())["results"]
        if held["name"].startswith("unexplained_changes")
    ]
    assert unexplained == [True]


def test_the_order_in_which_sets_were_admitted_leaves_no_trace_in_any_table(
    study_text: str, tmp_path: Path
) -> None:
    made = []
    for order in ((1, 2), (2, 1)):
        root = tmp_path / f"study-{order[0]}"
        root.mkdir()
        (root / "study.toml").write_text(study_text, encoding="utf-8")
        for number in order:
            handed = write_set(root / f"handed-{number}", number, shift=0.4 * (number - 1))
            assert admit(open_study(root), handed, received_on=dt.date(2026, 10, 20)).admitted
        made.append(table_bytes(open_study(root), root))
    assert len(made[0]["runs"]) > 1000
    assert made[0] == made[1]


def table_bytes(study: StudyFolder, scratch: Path) -> dict[str, bytes]:
    """Every table that a release of the study publishes, as it publishes it."""
    contract = load_contract()
    with duckdb.connect() as con:
        reach = restrict(con, load_source(study, con, contract), DAY)
        build_tables(con, reach.design, contract)
        found = {}
        for held in (*source_tables(contract), *derived_tables(con, contract)):
            write_csv(con, held.table, scratch / "table.csv")
            found[held.table.name] = (scratch / "table.csv").read_bytes()
    return found


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
