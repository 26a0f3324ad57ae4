"""The register of releases is only ever added to."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from rigledger.release.errors import ReleaseError
from rigledger.release.register import Entry, RegisteredSet, append_entry, read_register

if TYPE_CHECKING:
    from pathlib import Path

FIRST = Entry(
    version="1.0.0", released_on=date(2026, 11, 25), fingerprint="a" * 64,
    previous_fingerprint=None, rigledger="0.1.0", deposited_at="a shelf",
    sets=(RegisteredSet("anna.autumn-1", "0" * 64), RegisteredSet("bo.one", "1" * 64)),
)  # fmt: skip
SECOND = replace(FIRST, version="1.1.0", fingerprint="b" * 64, previous_fingerprint="a" * 64)


def test_what_was_registered_is_read_back(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    assert read_register(path) == ()
    append_entry(path, FIRST)
    assert read_register(path) == (FIRST,)


def test_adding_leaves_the_bytes_before_as_they_are(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    append_entry(path, FIRST)
    before = path.read_bytes()
    append_entry(path, SECOND)
    assert path.read_bytes().startswith(before)
    assert read_register(path) == (replace(FIRST, status="superseded"), SECOND)


def test_a_retraction_is_a_block_of_its_own(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    append_entry(path, FIRST)
    block = '\n[[retraction]]\nversion = "1.0.0"\nreason = "wrong card"\n'
    path.write_text(path.read_text(encoding="utf-8") + block, encoding="utf-8")
    assert read_register(path) == (replace(FIRST, status="retracted", reason="wrong card"),)


def test_a_version_is_registered_once(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    append_entry(path, FIRST)
    with pytest.raises(ReleaseError, match="registered already"):
        append_entry(path, replace(SECOND, version="1.0.0"))


def test_a_release_follows_the_last_one(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    append_entry(path, FIRST)
    with pytest.raises(ReleaseError, match="not made from the last one"):
        append_entry(path, replace(SECOND, previous_fingerprint=None))


@pytest.mark.parametrize(
    ("was", "becomes", "said"),
    [
        ('previous_fingerprint = "a', 'previous_fingerprint = "c', "doesn't name the fingerprint"),
        ('version = "1.1.0"', 'version = "0.9.0"', "has no higher version than 1.0.0"),
        ("released_on = 2026-11-26", "released_on = 2026-11-24", "is dated before 1.0.0"),
    ],
)
def test_an_edited_register_is_refused(tmp_path: Path, was: str, becomes: str, said: str) -> None:
    path = tmp_path / "releases.toml"
    append_entry(path, FIRST)
    append_entry(path, replace(SECOND, released_on=date(2026, 11, 26)))
    text = path.read_text(encoding="utf-8")
    assert was in text
    path.write_text(text.replace(was, becomes), encoding="utf-8")
    with pytest.raises(ReleaseError, match=f"was edited.*{said}"):
        read_register(path)


def test_a_release_taken_out_of_the_register_is_missed(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    append_entry(path, FIRST)
    text = path.read_text(encoding="utf-8")
    append_entry(path, SECOND)
    second = path.read_text(encoding="utf-8").removeprefix(text)
    path.write_text(second, encoding="utf-8")
    with pytest.raises(ReleaseError, match="doesn't name the fingerprint"):
        read_register(path)


def test_a_retraction_of_nothing_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    append_entry(path, FIRST)
    block = '\n[[retraction]]\nversion = "1.9.0"\nreason = "wrong card"\n'
    path.write_text(path.read_text(encoding="utf-8") + block, encoding="utf-8")
    with pytest.raises(ReleaseError, match="not registered") as caught:
        read_register(path)
    assert caught.value.value == "1.9.0"


def test_a_register_that_cannot_be_read_is_named(tmp_path: Path) -> None:
    path = tmp_path / "releases.toml"
    path.write_text("[[release]]\n", encoding="utf-8")
    with pytest.raises(ReleaseError, match="can't be read"):
        read_register(path)
