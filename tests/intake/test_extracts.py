# ruff: noqa: ANN001, ANN201, ANN202 - fixtures are known by their names
"""A check reads no other set of its study again once an admission has kept what it needs of it."""

from __future__ import annotations

import datetime as dt
import json
import shutil

import pytest

from rigledger.files import hashes_below, remove
from rigledger.intake import admitted
from rigledger.intake.check import check_set
from rigledger.intake.extracts import PARTS, keep_extracts
from rigledger.study.admit import admit
from rigledger.study.decisions import read_decisions
from rigledger.study.layout import open_study

FILES = sorted([*(f"{part}.parquet" for part in PARTS), "extract.json"])


@pytest.fixture
def hub(made, study, admit_once):
    """The clean set is in the study; another one repeats it under another name."""
    admit_once(made.write())
    made.manifest = made.manifest.replace('"autumn-1"', '"autumn-2"')
    made.write()
    return open_study(study)


@pytest.fixture
def kept(made, hub, tmp_path):
    """The first set's extract is kept."""
    check_set(made.folder, hub.root, extracts=tmp_path / "made")
    keep_extracts(hub.kept, tmp_path / "made", sums(hub))
    return hub.kept / "extracts" / "anna.autumn-1"


@pytest.fixture
def read(monkeypatch):
    """Lists the sets that checks read beside their own."""
    names = []
    make = admitted.make_extract

    def noted(folder, into, contract):
        names.append(folder.name)
        make(folder, into, contract)

    monkeypatch.setattr(admitted, "make_extract", noted)
    return names


def sums(hub):
    return {one.set_id: one.sha256 for one in read_decisions(hub.decisions).in_force}


def test_a_check_by_itself_keeps_nothing(made, hub, read):
    before = hashes_below(hub.root)
    check_set(made.folder, hub.root)
    assert hashes_below(hub.root) == before
    assert read == ["anna.autumn-1"]


def test_what_is_kept_is_read_in_place_of_the_set(made, hub, kept, read):
    found = check_set(made.folder, hub.root)
    assert read == []
    assert sorted(path.name for path in kept.iterdir()) == FILES
    remove(hub.kept)
    assert check_set(made.folder, hub.root) == found
    assert "copied_from_other_set" in {finding.rule for finding in found.findings}


@pytest.mark.parametrize("name", FILES)
def test_what_was_altered_is_made_again(made, hub, kept, read, name):
    found = check_set(made.folder, hub.root)
    with (kept / name).open("ab") as stream:
        stream.write(b"0")
    assert check_set(made.folder, hub.root) == found
    assert read == ["anna.autumn-1"]


@pytest.mark.parametrize("note", [{}, [], {"key": "0", "files": {}}])
def test_what_follows_from_something_else_is_made_again(made, hub, kept, read, note):
    (kept / "extract.json").write_text(json.dumps(note), encoding="utf-8")
    check_set(made.folder, hub.root)
    assert read == ["anna.autumn-1"]


def test_an_admission_keeps_what_its_check_had_to_read(made, hub):
    for session in made.sessions:
        session["session"] = session["boot"] = str(int(session["boot"]) + 2)
    for run in made.runs:
        run["session"] = str(int(run["session"]) + 2)
        run["average_fps"] = f"{float(run['average_fps']) + 0.1:.1f}"
    assert admit(hub, made.write(), received_on=dt.date(2026, 10, 21)).admitted
    kept = hub.kept / "extracts"
    assert [path.name for path in kept.iterdir()] == ["anna.autumn-1"]
    assert sorted(path.name for path in (kept / "anna.autumn-1").iterdir()) == FILES


def test_extracts_of_sets_that_are_not_in_force_are_forgotten(hub, kept, tmp_path):
    keep_extracts(hub.kept, tmp_path / "nothing", {})
    assert not kept.exists()


def test_an_extract_that_lacks_a_file_is_not_kept(hub, kept, tmp_path):
    made = tmp_path / "short" / kept.name
    shutil.copytree(kept, made)
    (made / "rigs.parquet").unlink()
    remove(kept)
    keep_extracts(hub.kept, made.parent, sums(hub))
    assert not kept.exists()
