# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""Nothing in gate, reading, check and kit is bound to one operating system."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import warnings
from pathlib import PureWindowsPath

import pytest
from hypothesis import given
from hypothesis import strategies as st
from typer.testing import CliRunner

from rigledger import child
from rigledger.cli import app
from rigledger.files import write_text
from rigledger.intake.apart import check_apart
from rigledger.intake.gate import IntakeError
from rigledger.intake.names import clashes, is_junk, name_problem

# Modules that Python has on some systems only; None in their place is what importing them meets.
MISSING = (
    "fcntl", "resource", "pwd", "grp", "termios", "pty", "tty", "syslog", "posix", "crypt", "spwd",
    "winreg", "msvcrt", "winsound", "_winapi",
)  # fmt: skip
WITHOUT = """
import os, pathlib, subprocess, sys, tempfile, zipfile, shutil, json, csv, pydoc
import duckdb, python_calamine, xlsxwriter, typer
for name in {missing}:
    sys.modules[name] = None
from rigledger.cli import app
from rigledger.intake import apart, check, confine, gate, report, report_ci, report_markdown
from rigledger.study import from_captures, inbox, kit_folder, kit_model, kit_xlsx, sheet
confine.confine(pathlib.Path(tempfile.gettempdir()))
result = check.check_set(pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2]))
print(json.dumps([result.verdict, [f.rule for f in result.findings]]))
"""
NAMES = st.text(
    st.sampled_from("ab1./\\:~ $*?<>|\"'CONPRNauxNULlptLPT1é\u0301\u202eßİ"), max_size=20
)


def run(*arguments: str, **environment: str) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, *arguments], env=os.environ | environment, check=False, capture_output=True
    )


def test_modules_of_one_system_are_needed_nowhere(made, study):
    script = WITHOUT.format(missing=MISSING)
    done = run("-c", script, str(made.write()), str(study))
    assert done.stderr == b""
    assert json.loads(done.stdout) == ["accepted", []]


def test_line_ends_and_marks_of_windows_make_no_difference(made, study):
    plain = check_apart(made.write(), study)
    texts = {path: path.read_text(encoding="utf-8") for path in made.folder.iterdir()}
    for start in ("\ufeff", ""):
        for path, text in texts.items():
            path.write_bytes((start + text.replace("\n", "\r\n")).encode("utf-8"))
        assert check_apart(made.folder, study) == plain


@pytest.mark.skipif(sys.platform == "win32", reason="code pages are set otherwise there")
def test_neither_code_page_nor_terminal_changes_what_is_read(made, study):
    made.manifest = made.manifest.replace('shown_name = "Anna"', 'shown_name = "Ånna 測"')
    made.runs[0]["level"] = "ü16"
    folder = made.write().rename(made.folder.with_name("hör 測"))
    command = ("-m", "rigledger", "check", str(folder), "--study", str(study), "--json")
    utf8 = run(*command, PYTHONUTF8="1")
    other = run(
        *command, PYTHONUTF8="0", PYTHONCOERCECLOCALE="0", LC_ALL="C", PYTHONIOENCODING="cp1252"
    )
    assert (utf8.returncode, other.returncode, other.stderr) == (1, 1, b"")
    assert json.loads(utf8.stdout) == json.loads(other.stdout.decode("cp1252"))


@given(NAMES)
def test_a_name_that_the_gate_lets_through_is_one_on_windows_too(name):
    if name_problem(name) is not None:
        return
    path = PureWindowsPath(name)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        reserved = path.is_reserved()
    assert (path.drive, path.root, reserved) == ("", "", False)
    assert list(path.parts) == name.rstrip("/").split("/")
    assert all(part == part.rstrip(". ") and not set(part) & set('<>:"|?*') for part in path.parts)


@given(st.lists(NAMES, max_size=4))
def test_names_that_do_not_clash_stay_apart_where_case_is_ignored(names):
    if not clashes(names):
        assert len({name.rstrip("/").lower() for name in names}) == len(names)


def test_what_spreadsheets_and_systems_leave_behind_is_passed_over(made, study):
    left = ("~$kit.xlsx", ".~lock.runs.csv#", "Thumbs.db", ".DS_Store", "._runs.csv", "desktop.ini")
    assert all(is_junk(name) for name in left)
    made.files = dict.fromkeys(left, b"x")
    assert check_apart(made.write(), study).findings == ()


def test_a_report_that_is_open_elsewhere_is_left_whole_and_said(made, study, tmp_path, monkeypatch):
    report = tmp_path / "found.csv"
    write_text(report, "earlier\n")

    def locked(*_: object) -> None:
        raise PermissionError(13, "The process cannot access the file", str(report))

    monkeypatch.setattr("pathlib.Path.replace", locked)
    words = ["check", str(made.write()), "--study", str(study), "--csv", str(report)]
    done = CliRunner().invoke(app, words)
    assert done.exit_code == 2
    assert "close it in other programs" in done.output
    assert report.read_text(encoding="utf-8") == "earlier\n"
    assert [path.name for path in tmp_path.glob(".*")] == []


@pytest.mark.skipif(os.name == "nt", reason="plays what Windows does")
def test_a_set_that_is_open_elsewhere_is_refused_in_words(made, study, monkeypatch):
    folder = made.write()
    locked = (
        "import builtins, io, pathlib; kept = pathlib.Path.open;\n"
        "def refuse(path, *rest, **more):\n"
        "    if path.name == 'runs.csv':\n"
        "        raise PermissionError(13, 'in use', str(path))\n"
        "    return kept(path, *rest, **more)\n"
        "pathlib.Path.open = refuse\n"
    )
    monkeypatch.setattr(child, "_WAIT", locked + child._WAIT)
    with pytest.raises(IntakeError, match=r"runs\.csv.*another program"):
        check_apart(folder, study)
