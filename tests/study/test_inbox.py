"""Several sets wait in a folder: each is taken in or returned, whatever becomes of the others."""

from __future__ import annotations

import datetime as dt
import shutil
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.study.decisions import read_decisions
from rigledger.study.inbox import admit_all, waiting_sets

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
