"""A release is taken back by a block in the register; its files and the rest of it stay."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from rigledger.cli import app
from rigledger.release.errors import ReleaseError
from rigledger.release.register import Entry, append_entry, read_register
from rigledger.release.retraction import retract
from rigledger.study.layout import StudyFolder, open_study

if TYPE_CHECKING:
    from pathlib import Path

DAY = date(2026, 11, 25)
FIRST = Entry("1.0.0", DAY, "a" * 64, None, "0.1.0", None, ())
SECOND = replace(FIRST, version="1.1.0", fingerprint="b" * 64, previous_fingerprint="a" * 64)


@pytest.fixture
def study(tmp_path: Path, study_text: str) -> StudyFolder:
    (tmp_path / "study.toml").write_text(study_text, encoding="utf-8")
    held = open_study(tmp_path)
    append_entry(held.releases, FIRST)
    append_entry(held.releases, SECOND)
    return held


def test_the_register_says_what_was_retracted_and_why_and_keeps_what_it_held(
    study: StudyFolder,
) -> None:
    before = study.releases.read_bytes()
    found = retract(study, "1.0.0", on=DAY, reason="a card was\nfaulty")
    assert (found.status, found.reason) == ("retracted", "a card was faulty")
    assert study.releases.read_bytes().startswith(before)
    assert [held.status for held in read_register(study.releases)] == ["retracted", "published"]


def test_the_next_release_still_follows_a_retracted_one(study: StudyFolder) -> None:
    retract(study, "1.1.0", on=DAY, reason="a card was faulty")
    third = replace(
        SECOND, version="1.2.0", fingerprint="c" * 64, previous_fingerprint=SECOND.fingerprint
    )
    append_entry(study.releases, third)
    found = [(held.version, held.status) for held in read_register(study.releases)]
    assert found == [("1.0.0", "superseded"), ("1.1.0", "retracted"), ("1.2.0", "published")]


@pytest.mark.parametrize(
    ("version", "on", "reason", "said"),
    [
        ("1.0.1", DAY, "faulty", "did you mean '1.0.0'"),
        ("1.0.0", DAY, "  ", "has a reason"),
        ("1.0.0", DAY, "x" * 401, "at most 400"),
        ("1.0.0", date(2026, 11, 24), "faulty", "was made on 2026-11-25, later"),
    ],
)
def test_what_can_not_be_retracted_leaves_the_register_alone(
    study: StudyFolder, version: str, on: date, reason: str, said: str
) -> None:
    before = study.releases.read_bytes()
    with pytest.raises(ReleaseError) as caught:
        retract(study, version, on=on, reason=reason)
    assert said in str(caught.value)
    assert study.releases.read_bytes() == before


def test_a_release_is_retracted_once(study: StudyFolder) -> None:
    retract(study, "1.0.0", on=DAY, reason="faulty")
    with pytest.raises(ReleaseError, match="retracted already: faulty"):
        retract(study, "1.0.0", on=DAY, reason="again")


def test_the_command_needs_both_version_and_reason(study: StudyFolder) -> None:
    def call(*more: str) -> tuple[int, str]:
        result = CliRunner().invoke(app, ["release", str(study.root), "--on", "2026-11-25", *more])
        return result.exit_code, result.output

    code, said = call("--retract", "1.0.0")
    assert (code, "go together" in said) == (2, True)
    code, said = call("--retract", "1.0.0", "--reason", "a card was faulty")
    assert (code, said.splitlines()[0]) == (0, "1.0.0 is retracted: a card was faulty")
