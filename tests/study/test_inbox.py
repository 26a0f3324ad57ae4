"""Several sets wait in a folder; a set that grows is handed in anew as its own next revision."""

from __future__ import annotations

import datetime as dt
import shutil
import tomllib
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.study.admit import AdmitResult, admit, withdraw
from rigledger.study.decisions import read_decisions
from rigledger.study.inbox import admit_all, next_revision, waiting_sets

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

    Edit = Callable[[Path, Callable[[dict[str, str]], dict[str, str] | None]], None]

DAY = dt.date(2026, 10, 20)


@pytest.fixture
def inbox(tmp_path: Path, handed_in: Path, edit: Edit) -> Path:
    """A successor named before its predecessor, a set without drivers, and what is no set."""
    folder = tmp_path / "inbox"
    first = shutil.copytree(handed_in, folder / "b-first")
    manifest = (first / "result-set.toml").read_text(encoding="utf-8")
    second = shutil.copytree(handed_in, folder / "a-second")
    said = manifest.replace('set = "autumn-1"', 'set = "autumn-2"')
    said = said.replace('# supersedes = "autumn-0"', 'supersedes = "autumn-1"')
    (second / "result-set.toml").write_text(said, encoding="utf-8")
    bad = shutil.copytree(handed_in, folder / "c-bad")
    other = manifest.replace('contributor = "anna"', 'contributor = "ben"')
    (bad / "result-set.toml").write_text(other, encoding="utf-8")
    edit(bad / "sessions.csv", lambda row: row | {"driver_version": ""})
    (folder / "~$kit.xlsx").write_bytes(b"")
    (folder / "notes.txt").write_text("call Anna", encoding="utf-8")
    (folder / "empty").mkdir()
    return folder


def test_only_sets_are_waiting(inbox: Path) -> None:
    assert [path.name for path in waiting_sets(inbox)] == ["a-second", "b-first", "c-bad"]
    with pytest.raises(StudyError, match="no such folder"):
        waiting_sets(inbox / "elsewhere")


def test_all_that_can_be_admitted_are_in_whatever_order_their_names_have(
    inbox: Path, study: StudyFolder
) -> None:
    results = admit_all(study, inbox, received_on=DAY)
    assert [(held.path.name, held.admitted) for held in results] == [
        ("a-second", True),
        ("b-first", True),
        ("c-bad", False),
    ]
    held = read_decisions(study.decisions)
    assert [item.set_id for item in held.in_force] == ["anna.autumn-2"]
    assert results[2].result is not None
    assert results[2].result.check.verdict == "returned"


def test_a_set_not_admitted_yet_is_left_as_it_is(study: StudyFolder, handed_in: Path) -> None:
    before = (handed_in / "result-set.toml").read_bytes()
    assert next_revision(handed_in, study) is None
    assert (handed_in / "result-set.toml").read_bytes() == before


def test_a_growing_set_becomes_its_own_next_revision_again_and_again(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult, edit: Edit
) -> None:
    assert admitted.admitted
    path = handed_in / "result-set.toml"
    for name, before in (("autumn-1-r2", "autumn-1"), ("autumn-1-r3", "autumn-1-r2")):
        old = path.read_text(encoding="utf-8").splitlines()
        assert next_revision(handed_in, study) == (name, before)
        new = path.read_text(encoding="utf-8")
        said = tomllib.loads(new)["set"]
        assert (said["set"], said["supersedes"]) == (name, before)
        assert len(set(old) - set(new.splitlines())) == 2
        edit(handed_in / "runs.csv", lambda row, name=name: row | {"level_check": name})
        assert admit(study, handed_in, received_on=DAY).admitted
    held = read_decisions(study.decisions)
    assert [item.set_id for item in held.in_force] == ["anna.autumn-1-r3"]


def test_a_withdrawn_set_has_no_next_revision(
    study: StudyFolder, handed_in: Path, admitted: AdmitResult
) -> None:
    assert admitted.admitted
    withdraw(study, "anna.autumn-1", on=DAY, reason="asked for")
    with pytest.raises(StudyError, match="no longer in force, it is withdrawn"):
        next_revision(handed_in, study)


@pytest.mark.parametrize("text", ["", "[set", '[set]\nset = "a"\n', "set = 3\n"])
def test_what_is_no_sets_own_file_is_refused(study: StudyFolder, tmp_path: Path, text: str) -> None:
    (tmp_path / "result-set.toml").write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match="can't be read as a set's own file"):
        next_revision(tmp_path, study)
