"""The commands parse, call and print: exit codes, JSON, and errors without a traceback."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from rigledger import __version__
from rigledger.cli import app
from rigledger.console import CLEAN, FINDINGS, WRONG_USE
from rigledger.study.layout import open_study
from rigledger.tables import so_far
from rigledger.tables.so_far import so_far_of

if TYPE_CHECKING:
    from click.testing import Result

DATASETS = Path(__file__).resolve().parents[2] / "datasets"
DEMO = DATASETS / "link-width"
RIG = ("--rig", "box=q1,brankelo-94")
WHO = ("--contributor", "anna", "--set", "first")


def call(*arguments: str | Path) -> Result:
    return CliRunner().invoke(app, [str(part) for part in arguments])


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """The demonstration before anything was admitted."""
    folder = tmp_path / "study"
    folder.mkdir()
    shutil.copy(DEMO / "study.toml", folder)
    return folder


@pytest.fixture
def handed_in(tmp_path: Path) -> Path:
    """One set of the demonstration as it was handed in."""
    leave_out = shutil.ignore_patterns("SHA256SUMS")
    inbox = tmp_path / "inbox"
    return Path(shutil.copytree(DEMO / "sets" / "maren.first", inbox / "first", ignore=leave_out))


@pytest.fixture(scope="module")
def taken_in(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demonstration after one of its sets was admitted, as it was handed in."""
    root = tmp_path_factory.mktemp("taken-in")
    (root / "study").mkdir()
    shutil.copy(DEMO / "study.toml", root / "study")
    leave_out = shutil.ignore_patterns("SHA256SUMS")
    shutil.copytree(DEMO / "sets" / "maren.first", root / "first", ignore=leave_out)
    done = call("admit", root / "study", root / "first", "--received-on", "2026-11-20")
    assert done.exit_code == CLEAN
    return root / "study"


@pytest.fixture
def admitted(taken_in: Path, tmp_path: Path) -> Path:
    """A copy of it that a test may change."""
    return Path(shutil.copytree(taken_in, tmp_path / "admitted"))


def test_every_command_has_help_and_stands_in_the_readme_or_the_changelog() -> None:
    pages = "".join(
        (DATASETS.parent / name).read_text(encoding="utf-8")
        for name in ("README.md", "CHANGELOG.md")
    )
    for command in app.registered_commands:
        assert command.callback is not None
        assert command.callback.__doc__
        assert command.callback.__name__ in pages


def test_the_version_is_printed() -> None:
    assert call("--version").stdout == f"rigledger {__version__}\n"


def test_a_sheet_is_the_same_for_the_same_seed_and_another_for_another() -> None:
    one, same, other = (call("sheet", DEMO, *RIG, "--seed", seed).stdout for seed in "aab")

    assert one == same
    assert one != other


def test_a_sheet_holds_what_it_counts(tmp_path: Path) -> None:
    files = (
        "--csv",
        tmp_path / "s.csv",
        "--xlsx",
        tmp_path / "s.xlsx",
        "--html",
        tmp_path / "s.html",
    )

    counted = call("sheet", DEMO, *RIG, *files, "--json")

    lines = (tmp_path / "s.csv").read_text(encoding="utf-8-sig").splitlines()
    held = json.loads(counted.stdout)
    assert len(lines) - 1 == held["counts"]["runs"] == len(held["runs"])
    assert (tmp_path / "s.xlsx").stat().st_size > 0
    assert (tmp_path / "s.html").read_text(encoding="utf-8").startswith("<!doctype html>")


def test_a_smaller_plan_is_priced() -> None:
    rows = json.loads(call("sheet", DEMO, *RIG, "--power", "--json").stdout)

    assert [row["plan"]["titles"] for row in rows[:3]] == [8, 7, 6]


def test_a_misspelt_card_is_wrong_use_and_the_near_name_is_offered() -> None:
    result = call("sheet", DEMO, "--card", "brankelo-49")

    assert (result.exit_code, "did you mean 'brankelo-94'" in result.stderr) == (WRONG_USE, True)


@pytest.mark.parametrize("rig", ["box", "box=q1", "=q1,brankelo-94"])
def test_a_rig_without_hardware_is_wrong_use(rig: str) -> None:
    result = call("sheet", DEMO, "--rig", rig)

    assert (result.exit_code, "name=platform,card" in result.stderr) == (WRONG_USE, True)


def test_a_kit_never_overwrites(tmp_path: Path) -> None:
    out = tmp_path / "kit"

    first = call("kit", DEMO, out, *WHO, *RIG)
    again = call("kit", DEMO, out, *WHO, *RIG)

    assert (first.exit_code, again.exit_code) == (CLEAN, WRONG_USE)


def test_a_folder_that_is_no_study_is_wrong_use(tmp_path: Path) -> None:
    result = call("tables", tmp_path)

    assert (result.exit_code, "study.toml" in result.stderr) == (WRONG_USE, True)


def test_check_reports_in_every_form(handed_in: Path, study: Path, tmp_path: Path) -> None:
    forms = {"--csv": "f.csv", "--junit": "f.xml", "--sarif": "f.sarif"}
    options = [part for option, name in forms.items() for part in (option, str(tmp_path / name))]

    data = call("check", handed_in, "--study", study, "--json", *options)
    text = call("check", handed_in, "--study", study)
    markdown = call("check", handed_in, "--study", study, "--markdown")

    held = json.loads(data.stdout)
    assert (held["verdict"], data.exit_code) == ("accepted_with_remarks", FINDINGS)
    assert text.stdout.startswith("Accepted with remarks")
    assert "whole_numbers" in markdown.stdout
    assert sorted(path.name for path in tmp_path.glob("f.*")) == sorted(forms.values())


def test_an_inbox_is_admitted_once(handed_in: Path, study: Path) -> None:
    first = call("admit", study, handed_in.parent, "--all", "--received-on", "2026-11-20")
    again = call("admit", study, handed_in.parent, "--all", "--received-on", "2026-11-21")

    assert (first.exit_code, again.exit_code) == (CLEAN, FINDINGS)
    assert "1 of 1 waiting sets admitted." in first.stdout
    assert "0 of 1 waiting sets admitted." in again.stdout


def test_of_a_small_study_all_tables_are_kept_and_the_answer_is_that_of_a_large_one(
    taken_in: Path, admitted: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert (taken_in / ".rigledger" / "tables.duckdb").is_file()
    shutil.rmtree(admitted / ".rigledger")
    (admitted / "claims.toml").write_text("misspelt", encoding="utf-8")
    small = so_far_of(open_study(taken_in), ["maren"])
    with_wrong_claims = so_far_of(open_study(admitted), ["maren"])
    monkeypatch.setattr(so_far, "_SMALL_BYTES", 0)
    assert small == with_wrong_claims == so_far_of(open_study(taken_in), ["maren"])


def test_a_returned_set_leaves_the_study_as_it_was(handed_in: Path, study: Path) -> None:
    (handed_in / "sessions.csv").unlink()
    before = sorted(path.name for path in study.rglob("*"))

    result = call("admit", study, handed_in, "--received-on", "2026-11-20")

    assert (result.exit_code, sorted(path.name for path in study.rglob("*"))) == (FINDINGS, before)


@pytest.mark.parametrize(
    "options",
    [
        ("--received-on", "yesterday"),
        ("--waive", "too_few_runs"),
        ("--all", "--waive", "too_few_runs=known"),
    ],
)
def test_wrong_words_are_wrong_use(handed_in: Path, study: Path, options: tuple[str, ...]) -> None:
    assert call("admit", study, handed_in, *options).exit_code == WRONG_USE


def test_a_withdrawn_set_is_gone_from_the_tables(admitted: Path) -> None:
    result = call(
        "withdraw", admitted, "maren.first", "--reason", "card was faulty", "--on", "2026-11-21"
    )

    tables = json.loads(call("tables", admitted, "--json").stdout)
    assert (result.exit_code, tables["rows"]["runs_wide"]) == (CLEAN, 0)


def test_tables_are_written_and_shown(admitted: Path) -> None:
    shown = call("tables", admitted)

    assert shown.exit_code == CLEAN
    assert "x8-against-x16, average_fps" in shown.stdout
    assert (admitted / "derived" / "current" / "comparisons.csv").is_file()
    assert (admitted / "derived" / "current" / "comparisons.parquet").is_file()


def test_what_deserves_another_round_is_listed_with_reasons(admitted: Path) -> None:
    result = call("sheet", admitted, "--again", "maren")

    assert (result.exit_code, "again: " in result.stdout) == (CLEAN, True)
