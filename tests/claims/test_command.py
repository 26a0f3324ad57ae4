"""The command: exit codes, and what it says where there is nothing to judge."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from rigledger.cli import app
from rigledger.console import CLEAN, FINDINGS, WRONG_USE

if TYPE_CHECKING:
    from pathlib import Path

    from click.testing import Result


def call(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(part) for part in ("claims", *arguments)])


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory, study_text: str) -> Path:
    """A study to which nothing was admitted."""
    folder = tmp_path_factory.mktemp("empty")
    (folder / "study.toml").write_text(study_text, encoding="utf-8")
    return folder


def test_a_study_without_claims_is_clean_and_points_to_proposals(empty: Path) -> None:
    done = call(empty)
    assert done.exit_code == CLEAN
    assert done.stdout == (
        "0 claims: 0 holds, 0 not settled, 0 broader than the data, 0 fails\n"
        "Next step: rigledger claims --suggest proposes sentences that the data support\n"
    )
    assert (call(empty, "--suggest").exit_code, call(empty, "--suggest").stdout) == (CLEAN, "")


def test_a_claim_that_does_not_hold_ends_with_findings_until_it_is_acknowledged(
    empty: Path, tmp_path: Path
) -> None:
    file = tmp_path / "claims.toml"
    text = '[[claims]]\nclaim = "a"\nsentence = "Same."\nquantity = "no_difference"\n'
    file.write_text(text, encoding="utf-8")
    assert call(empty, "--claims", file).exit_code == FINDINGS
    file.write_text(text + 'acknowledged = true\nreason = "to come"\n', encoding="utf-8")
    assert call(empty, "--claims", file).exit_code == CLEAN


def test_a_file_that_is_not_there_or_misspelt_is_wrong_use(empty: Path, tmp_path: Path) -> None:
    done = call(empty, "--claims", tmp_path / "clams.toml")
    assert done.exit_code == WRONG_USE
    assert done.stderr.endswith("clams.toml: there is no such claims file\n")
    file = tmp_path / "claims.toml"
    file.write_text('[[claims]]\nclaim = "a"\nsentance = "Same."\n', encoding="utf-8")
    done = call(empty, "--claims", file)
    assert done.exit_code == WRONG_USE
    assert done.stderr == (
        "file claims.toml, column claims[1].sentance, value 'Same.': unknown key\n"
        "Next step: did you mean 'sentence'?\n"
    )
