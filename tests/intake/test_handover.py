# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""What a check leaves for a set's admission, and that the admission takes it."""

from __future__ import annotations

import datetime as dt
import shutil
from collections import OrderedDict

import duckdb
import pytest

from rigledger import remembered
from rigledger.captures.batch import read_captures
from rigledger.captures.source import CaptureSource
from rigledger.captures.store import CaptureStore
from rigledger.contract import load_contract
from rigledger.errors import StudyError
from rigledger.files import hashes_below
from rigledger.intake import captures as captures_module
from rigledger.intake.apart import check_apart
from rigledger.intake.check import check_set
from rigledger.intake.handover import handed_over
from rigledger.remembered import Remembered
from rigledger.study import admit as admit_module
from rigledger.study import set_captures
from rigledger.study.admit import admit
from rigledger.study.layout import open_study
from rigledger.study.load import load_source

DAY = dt.date(2026, 10, 20)
SOURCE = CaptureSource("frame_ms", 6)


@pytest.fixture
def set_of_captures(made, request):
    """A set whose first three runs have a capture of a minute each, and take a window of one."""
    made.manifest += '\n[captures]\nframe_time_column = "frame_ms"\nunit = "ms"\n'
    names = ("captures/a.csv", "captures/b.csv", "captures/c.csv")
    for run in made.runs:
        run |= {"capture_file": "", "capture_from_s": "", "capture_for_s": ""}
    for shift, (run, name) in enumerate(zip(made.runs, names, strict=False)):
        run |= {"capture_file": name, "average_fps": "", "low_1pct_rank_fps": ""}
        zeros = "0" * getattr(request, "param", 0)
        frames = [
            f"{7 + (place * place + shift) % 11 / 10 + shift / 50:.2f}{zeros}\n"
            for place in range(8000)
        ]
        made.files[name] = ("frame_ms\n" + "".join(frames)).encode()
    made.runs[2] |= {"capture_from_s": "1.25", "capture_for_s": "55.7"}
    return made.write()


@pytest.mark.parametrize("set_of_captures", [0, 7], indirect=True, ids=["small", "long"])
def test_captures_are_left_as_a_study_keeps_them(set_of_captures, study, tmp_path):
    check_apart(set_of_captures, study, keep=tmp_path / "kept")
    left = handed_over(tmp_path / "kept")
    paths = sorted((set_of_captures / "captures").iterdir())
    with duckdb.connect() as con:
        read_captures(con, paths, SOURCE, "f")
        stored = CaptureStore(tmp_path / "store").put_all(con, "f")
    expected = hashes_below(tmp_path / "store")
    assert len(expected) == 3
    assert {name: held for name, held in hashes_below(left.folder).items() if name in expected} == (
        expected
    )
    assert left.sums == hashes_below(set_of_captures)
    assert left.said["set"] == "autumn-1"
    captures = [held for held in left.found.values() if isinstance(held[0], str)]
    assert sorted(captures) == sorted(
        [one.capture, one.frames, one.total_ns] for one in stored.values()
    )


def test_nothing_is_left_of_a_set_that_may_not_be_opened_or_without_captures(made, study, tmp_path):
    check_set(made.write(), study, captures=False, keep=tmp_path / "kept")
    (made.folder / "setup.exe").write_bytes(b"MZ")
    check_set(made.folder, study, keep=tmp_path / "kept")
    assert handed_over(tmp_path / "kept") is None


def test_a_check_with_and_without_leaving_comes_to_the_same(set_of_captures, study, tmp_path):
    kept = check_set(set_of_captures, study, keep=tmp_path / "kept")
    assert kept == check_set(set_of_captures, study)


@pytest.mark.parametrize("left", [True, False], ids=["left by the check", "read again"])
def test_an_admission_stores_the_same_captures(
    set_of_captures, study, monkeypatch, tmp_path, *, left
):
    held = open_study(study)

    def read_again(*_: object) -> None:
        raise AssertionError("the captures were read twice")

    if left:
        monkeypatch.setattr(set_captures, "read_captures", read_again)
        monkeypatch.setattr(captures_module, "read_captures", read_again)
    else:
        monkeypatch.setattr(admit_module, "check_apart", lambda path, at, **_: check_set(path, at))
    assert admit(held, set_of_captures, received_on=DAY).admitted
    with duckdb.connect() as con:
        read_captures(con, sorted((set_of_captures / "captures").iterdir()), SOURCE, "f")
        CaptureStore(tmp_path / "store").put_all(con, "f")
    assert hashes_below(held.captures) == hashes_below(tmp_path / "store")


def test_what_was_read_at_the_check_is_remembered_for_loading(set_of_captures, study, tmp_path):
    check_set(set_of_captures, study, keep=tmp_path / "kept")
    left = handed_over(tmp_path / "kept")
    left.remember()
    assert len(left.found) == 6
    assert all(Remembered().knows(key) for key in left.found)


def test_metrics_are_those_that_loading_the_set_computes_to_the_last_bit(
    set_of_captures, study, monkeypatch
):
    held, contract = open_study(study), load_contract()
    from_captures = "from measurements where origin = 'recomputed' order by all"

    def loaded() -> list[object]:
        with duckdb.connect() as con:
            load_source(held, con, contract)
            return con.execute(from_captures).fetchall()

    monkeypatch.setattr("rigledger.remembered._IN_PROCESS", OrderedDict())
    assert admit(held, set_of_captures, received_on=DAY).admitted
    with monkeypatch.context() as patched:
        patched.setattr("rigledger.study.load.frame_metrics", None)
        rows = loaded()
    shutil.rmtree(held.kept)
    remembered._IN_PROCESS.clear()
    assert len(rows) > 3
    assert loaded() == rows


def test_a_set_that_changed_since_it_was_checked_is_not_admitted(
    set_of_captures, study, monkeypatch
):
    held = open_study(study)

    def changed(path, at, *, keep, **_: object) -> object:
        result = check_set(path, at, keep=keep)
        with (path / "captures" / "c.csv").open("a", encoding="utf-8") as stream:
            stream.write("7.7\n")
        return result

    monkeypatch.setattr(admit_module, "check_apart", changed)
    with pytest.raises(StudyError, match="changed since it was checked"):
        admit(held, set_of_captures, received_on=DAY)
    assert not held.decisions.exists()
    assert list(held.sets.iterdir()) == []
    assert not held.captures.exists()
