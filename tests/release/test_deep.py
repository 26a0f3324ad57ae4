"""The deep check: sets as handed in are held against hashes, findings and every source row."""

from __future__ import annotations

import datetime as dt
import shutil
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.files import sha256_of
from rigledger.release.deep import sets_again
from rigledger.release.design_text import design_toml
from rigledger.release.findings import fill_findings
from rigledger.release.published import source_tables
from rigledger.release.reach import restrict
from rigledger.release.set_findings import findings_of
from rigledger.study.admitted import folder_sums
from rigledger.study.decisions import Decision, Decisions, write_decisions
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.load import load_source
from rigledger.tabular import write_csv

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    import duckdb

    from rigledger.release.outcome import Difference

DAY = dt.date(2026, 11, 25)
MANIFEST = """\
[set]
set = "autumn-{number}"
contributor = "anna"
shown_name = "Anna"
study = "link-try"
licence = "CC-BY-4.0"
consent_version = "1"

[same_for_all_runs]
title_build = "1.4"
resolution = "1920x1080"
level_state = "effective"
role = "measured"
"""
RIGS = "rig,platform,card,platform_unit,card_unit,hardware_from\n"
SESSIONS = (
    "rig,session,boot,round,started_on,firmware_version,driver_version,card_firmware_version,os,"
    "os_build,profile\np{n},{n},{n},1,2026-10-05,1.20,551.10,unknown,Fennel 12,12.4,default\n"
)
CORRECTION = """\
[[corrections]]
correction = "typed-wrong"
session = "anna.p1.1"
run = "anna.p1.1.001"
metric = "average_fps"
action = "replace"
was = "159.69"
becomes = "159.7"
reason = "typed wrong"
decided_on = 2026-10-30
status = "applied"
"""


def runs(number: int) -> str:
    lines = ["rig,session,run,workload,level,pass,average_fps,low_1pct_rank_fps"]
    place = 0
    for workload, base in (("harbour-dawn", 160.0), ("tall-grass", 90.0)):
        for level, factor in (("wide", 1.0), ("narrow", 0.9)):
            for turn, nudge in enumerate((-0.31, 0.12, 0.27), start=1):
                place += 1
                value = round(base * factor + nudge, 2) + number - 1
                cells = f"p{number},{number},{place:03},{workload},{level},{turn}"
                lines.append(f"{cells},{value:.2f},{value * 0.7:.2f}")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory, study_text: str) -> StudyFolder:
    """A study of two admitted sets, one that the second replaced, and a correction."""
    prepared = StudyFolder(tmp_path_factory.mktemp("deep") / "study")
    prepared.root.mkdir()
    prepared.toml.write_text(study_text, encoding="utf-8")
    prepared.corrections.write_text(CORRECTION, encoding="utf-8")
    decisions = Decisions()
    for number, card in ((3, "velmar-50"), (1, "velmar-90"), (2, "velmar-50")):
        folder = prepared.set_folder(f"anna.autumn-{number}")
        folder.mkdir(parents=True)
        texts = {
            "result-set.toml": MANIFEST.format(number=number),
            "rigs.csv": f"{RIGS}p{number},brookfield-k4,{card},a,a,bought\n",
            "sessions.csv": SESSIONS.format(n=number),
            "runs.csv": runs(number),
        }
        for name, text in texts.items():
            (folder / name).write_text(text, encoding="utf-8", newline="\n")
        (folder / "SHA256SUMS").write_text(folder_sums(folder), encoding="utf-8", newline="\n")
        sha256 = sha256_of(folder / "SHA256SUMS")
        words = ("anna", DAY, "accepted_with_remarks", sha256, "CC-BY-4.0", "1")
        older = {"supersedes": "anna.autumn-3"} if number == 2 else {}
        decisions = decisions.with_decision(Decision(f"anna.autumn-{number}", *words, **older))
    write_decisions(prepared.decisions, decisions)
    return open_study(prepared.root)


@pytest.fixture(scope="module")
def folder(study: StudyFolder) -> Path:
    """What the deep check reads of a release: its design, and source tables as CSV."""
    contract = load_contract()
    place = study.root.parent / "release"
    (place / "data").mkdir(parents=True)
    with connect() as con:
        reach = restrict(con, load_source(study, con, contract), DAY)
        for held in source_tables(contract):
            write_csv(con, held.table, place / held.csv)
    (place / "study.toml").write_text(design_toml(reach.design), encoding="utf-8")
    return place


@pytest.fixture(scope="module")
def con(
    study: StudyFolder, folder: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[duckdb.DuckDBPyConnection]:
    contract = load_contract()
    assert folder.is_dir()
    shared = tmp_path_factory.mktemp("shared")
    with connect() as held:
        restrict(held, load_source(study, held, contract), DAY)
        fill_findings(held, contract, findings_of(study, DAY, shared))
        yield held


@pytest.fixture
def again(
    con: duckdb.DuckDBPyConnection, folder: Path, tmp_path: Path
) -> Callable[[StudyFolder], list[Difference]]:
    def check(study: StudyFolder) -> list[Difference]:
        return sets_again(
            con, folder, study.root, scratch=tmp_path, contract=load_contract(), released_on=DAY,
            report=lambda _: None,
        )  # fmt: skip

    return check


def test_the_sets_give_the_release_again(
    study: StudyFolder, again: Callable[[StudyFolder], list[Difference]]
) -> None:
    assert again(study) == []


def test_a_source_value_and_a_left_out_finding_are_named(
    con: duckdb.DuckDBPyConnection,
    study: StudyFolder,
    folder: Path,
    again: Callable[[StudyFolder], list[Difference]],
) -> None:
    file = folder / "data" / "measurements.csv"
    where = "run = 'anna.p2.2.001' AND metric = 'average_fps'"
    con.execute(f"UPDATE measurements SET value = 170 WHERE {where}")
    write_csv(con, load_contract().table("source", "measurements"), file)
    ((rule, count),) = con.execute(
        "SELECT rule, count(*) FROM findings GROUP BY rule ORDER BY rule LIMIT 1"
    ).fetchall()
    con.execute("DELETE FROM findings WHERE rule = ?", [rule])

    *missing, value = again(study)

    assert [d.says for d in missing] == ["a rule says so of the set, and it is not listed"] * count
    assert (value.kind, value.file, value.key, value.column, value.recorded, value.found) == (
        "set_differs", "data/measurements.csv",
        "run=anna.p2.2.001 metric=average_fps origin=reported", "value", "170.0", "160.69",
    )  # fmt: skip


def test_a_missing_another_and_an_altered_set_are_named(
    study: StudyFolder, tmp_path: Path, again: Callable[[StudyFolder], list[Difference]]
) -> None:
    copy = StudyFolder(shutil.copytree(study.root, tmp_path / "copy"))
    runs_csv = copy.set_folder("anna.autumn-1") / "runs.csv"
    runs_csv.write_bytes(runs_csv.read_bytes().replace(b"159.69", b"169.69"))
    assert [(d.kind, d.key) for d in again(copy)] == [("set_differs", "set_id=anna.autumn-1")]
    text = copy.decisions.read_text(encoding="utf-8")
    copy.decisions.write_text(text[: text.rindex("[[decisions]]")], encoding="utf-8")
    assert [(d.says, d.key) for d in again(copy)] == [
        ("no such set is here", "set_id=anna.autumn-2")
    ]
