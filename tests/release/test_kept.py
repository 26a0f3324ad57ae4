"""A release is made once for the same inputs; what was kept is used only while it is whole."""

from __future__ import annotations

import datetime as dt
import shutil
from collections import OrderedDict
from dataclasses import replace
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import pytest

from rigledger import remembered
from rigledger.database import connect
from rigledger.files import hashes_below
from rigledger.intake import captures
from rigledger.release import kept, publish
from rigledger.release.judges import judges_beside
from rigledger.release.kept import kept_release, release_key
from rigledger.release.meta import Earlier
from rigledger.release.validate import refuse_invalid
from rigledger.release.write import ReleaseInputs
from rigledger.study import load
from rigledger.study.admit import admit
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.load import load_source
from rigledger.tables import kept as kept_tables

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.write import ReleaseResult

DAY = dt.date(2026, 11, 25)
INPUTS = ReleaseInputs(released_on=DAY)
FILES = {
    "result-set.toml": """
[set]
set = "autumn"
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
[captures]
frame_time_column = "frame_time_ms"
unit = "ms"
""",
    "rigs.csv": "rig,platform,card,platform_unit,card_unit,hardware_from\n"
    "p1,brookfield-k4,velmar-90,a,a,bought\n",
    "sessions.csv": "rig,session,boot,round,started_on,firmware_version,driver_version,"
    "card_firmware_version,os,os_build,profile\n"
    "p1,1,1,1,2026-10-05,1.20,551.10,unknown,Fennel 12,12.4,default\n",
    "runs.csv": "rig,session,run,workload,level,pass,average_fps,low_1pct_rank_fps,capture_file\n"
    + "".join(
        f"p1,1,{number:03},harbour-dawn,{level},{place},"
        f"{',' if number == 1 else f'{160 + number}.5,{130 + number}.5'}"
        f",{'captures/one.csv' if number == 1 else ''}\n"
        for number, (level, place) in enumerate(
            ((level, place) for level in ("wide", "narrow") for place in (1, 2, 3)), start=1
        )
    ),
    "captures/one.csv": "frame_time_ms\n" + "6.19\n6.20\n" * 4843,
}


@pytest.fixture(scope="module")
def grown(tmp_path_factory: pytest.TempPathFactory, study_text: str) -> StudyFolder:
    """Give a study with one set, one of whose runs has a capture, and no release."""
    folder = tmp_path_factory.mktemp("grown")
    for name, text in FILES.items():
        path = folder / "handed-in" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    (folder / "study").mkdir()
    (folder / "study" / "study.toml").write_text(study_text, encoding="utf-8")
    study = open_study(folder / "study")
    result = admit(study, folder / "handed-in", received_on=dt.date(2026, 10, 20))
    assert result.admitted, [(f.rule, f.severity) for f in result.check.findings]
    return study


@pytest.fixture
def study(grown: StudyFolder, tmp_path: Path) -> StudyFolder:
    return open_study(shutil.copytree(grown.root, tmp_path / "study"))


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Count how often a release is made from the tables."""
    done: list[str] = []
    make = publish._made

    def counted(*given: object) -> ReleaseResult:
        done.append("made")
        return make(*given)

    monkeypatch.setattr(publish, "_made", counted)
    return done


def again(study: StudyFolder, **more: object) -> dict[str, str]:
    """Release a study as if it had not been, and give the hashes of what was written."""
    shutil.rmtree(study.published, ignore_errors=True)
    study.releases.unlink(missing_ok=True)
    result = publish.release(study, released_on=DAY, **more)
    assert result.fingerprint in study.releases.read_text(encoding="utf-8")
    return hashes_below(result.folder)


def deface(study: StudyFolder) -> None:
    (result,) = study.published.iterdir()
    (result / "index.html").write_text("defaced", encoding="utf-8")


def test_the_same_inputs_give_the_same_bytes_again_and_what_was_altered_is_noticed(
    study: StudyFolder, made: list[str]
) -> None:
    cold = again(study, threads=1)
    register = study.releases.read_bytes()
    assert any(name.startswith("captures/") for name in cold)
    assert (again(study, threads=2), study.releases.read_bytes()) == (cold, register)
    deface(study)  # it was a copy of what is kept
    assert (again(study), made) == (cold, ["made"])
    kept_file = study.kept / "release" / "data" / "runs.csv"
    kept_file.write_text(kept_file.read_text(encoding="utf-8").replace("1", "2"), "utf-8")
    assert (again(study), made) == (cold, ["made"] * 2)
    deface(study)  # what is kept is a link to it
    assert (again(study), made) == (cold, ["made"] * 3)


def test_a_release_takes_over_the_statistics_that_the_tables_were_built_with(
    study: StudyFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    kept_tables.kept_study(study).con.close()
    monkeypatch.setattr("rigledger.tables.analysis._analyse", lambda *_: pytest.fail("analysed"))
    assert "derived/cells.csv" in again(study)


def test_processes_beside_judge_it_alike(
    study: StudyFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("rigledger.release.write.refuse_invalid", refuse_invalid)
    monkeypatch.setattr(publish, "judges_beside", judges_beside)
    here = again(study)
    said = (study.kept / "judged.json").read_bytes()
    shutil.rmtree(study.kept)
    monkeypatch.setattr(remembered, "_IN_PROCESS", OrderedDict())
    assert again(study, beside=True) == here
    assert (study.kept / "judged.json").read_bytes() == said


@pytest.mark.parametrize(
    "file", ["study.toml", "decisions.toml", "claims.toml", "sets/anna.autumn/runs.csv"]
)
def test_any_byte_of_the_study_makes_another_release(study: StudyFolder, file: str) -> None:
    inputs = replace(INPUTS, claims=study.claims)
    before = release_key(study, inputs)
    with (study.root / file).open("a", encoding="utf-8") as stream:
        stream.write("# a word\n")
    assert release_key(study, inputs) != before


@pytest.mark.parametrize(
    "change",
    [
        {"released_on": dt.date(2026, 11, 26)}, {"version": "2.0.0"},
        {"identifier": "10.1234/abc"}, {"embargo_until": dt.date(2027, 1, 1)},
    ],
)  # fmt: skip
def test_whatever_is_asked_for_makes_another_release(
    study: StudyFolder, change: dict[str, Any]
) -> None:
    assert release_key(study, replace(INPUTS, **change)) != release_key(study, INPUTS)


def test_so_does_another_release_before_it(study: StudyFolder) -> None:
    befores = [SimpleNamespace(earlier=Earlier("1.0.0", digest)) for digest in ("a", "b")]
    keys = {release_key(study, replace(INPUTS, previous=held)) for held in (None, *befores)}
    assert len(keys) == 3


def test_captures_are_read_and_reduced_once_for_their_bytes(
    study: StudyFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    def measurements() -> list[tuple[object, ...]]:
        monkeypatch.setattr(remembered, "_IN_PROCESS", remembered.OrderedDict())
        with connect() as con:
            load_source(study, con)
            return con.execute("from measurements").fetchall()

    def unwanted(*_: object) -> None:
        raise LookupError("it was read or reduced again")

    cold = measurements()
    assert sum("recomputed" in row for row in cold) > 3
    monkeypatch.setattr(captures, "read_captures", unwanted)
    monkeypatch.setattr(load, "frame_metrics", unwanted)
    assert measurements() == cold
    note = study.kept / "captures.json"
    note.write_text(note.read_text(encoding="utf-8").replace("161", "171"), encoding="utf-8")
    with pytest.raises(LookupError):
        measurements()


@pytest.mark.parametrize("text", ["", "[]", "{", '{"key": "k", "sets": [1]}'])
def test_a_note_that_cant_be_read_is_none(study: StudyFolder, text: str) -> None:
    study.kept.mkdir(exist_ok=True)
    (study.kept / "release.json").write_text(text, encoding="utf-8")
    assert kept_release(study, "k") is None


@pytest.mark.parametrize(
    ("place", "name"), [(kept_tables, "code_sha256"), (kept, "versions_of"), (kept, "platform")]
)
def test_so_do_another_program_library_or_system(
    study: StudyFolder, monkeypatch: pytest.MonkeyPatch, place: object, name: str
) -> None:
    before = release_key(study, INPUTS)

    class Other:
        @staticmethod
        def platform() -> str:
            return "another"

        python_version = platform

        def __new__(cls, *_: object) -> str:  # type: ignore[misc]
            return "another"

    monkeypatch.setattr(place, name, Other)
    assert release_key(study, INPUTS) != before


def test_signing_and_the_place_of_a_deposit_need_no_new_release(study: StudyFolder) -> None:
    assert release_key(study, replace(INPUTS, deposited_at="x")) == release_key(study, INPUTS)
