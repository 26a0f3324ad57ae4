# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""The child process that reads strangers' sets."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from rigledger import child
from rigledger.errors import StudyError
from rigledger.intake import apart
from rigledger.intake.apart import check_apart
from rigledger.intake.check import check_set
from rigledger.intake.confine import ANSWER
from rigledger.intake.gate import IntakeError

CONFINED = """
import sys, tempfile
from pathlib import Path
from rigledger.intake.confine import confine
confine(Path(tempfile.gettempdir()))
try:
    {statement}
except (PermissionError, MemoryError) as error:
    sys.exit(7)
"""
linux = pytest.mark.skipif(sys.platform != "linux", reason="address space is limited on Linux only")


def child_that(statement: str) -> str:
    """Code of a child that does something else in place of a check."""
    return f"import json, os, signal, sys; place = json.loads(sys.stdin.readline()); {statement}"


def reasons(result) -> list[str]:
    assert result.verdict == "returned"
    assert [finding.rule for finding in result.findings] == ["reader_stopped"]
    return [finding.reason for finding in result.findings]


def test_it_comes_to_the_same_result(made, study):
    made.runs[0]["level"] = "X16"
    folder = made.write()
    assert check_apart(folder, study) == check_set(folder, study)


def test_wrong_use_is_raised_here_as_there(made, study, tmp_path):
    with pytest.raises(IntakeError, match="no such file"):
        check_apart(tmp_path / "nothing", study)
    with pytest.raises(StudyError):
        check_apart(made.write(), tmp_path / "nothing")


def test_nothing_is_left_behind(made, study, tmp_path, monkeypatch):
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    monkeypatch.setattr("tempfile.tempdir", str(scratch))
    check_apart(made.write(), study)
    assert list(scratch.iterdir()) == []


def test_a_child_that_takes_too_long_is_stopped_and_the_limit_is_named(made, study, monkeypatch):
    monkeypatch.setattr(apart, "limit", lambda _: 0.01)
    found = reasons(check_apart(made.write(), study))
    assert found == ["reading the set had to be stopped: it ran into the limit parse.seconds = 600"]


@pytest.mark.parametrize(
    ("statement", "said"),
    [
        ("os.kill(os.getpid(), signal.SIGSEGV)", "it fell over (SIGSEGV)"),
        ("os.kill(os.getpid(), signal.SIGKILL)", "the system ended it (SIGKILL)"),
        ("raise RuntimeError('of its own')", "it fell over with exit code 1: RuntimeError: of its"),
        (
            f"open(place + '/{ANSWER}', 'w').write(json.dumps({{'stopped': 'it ran dry'}}))",
            "it ran dry",
        ),
    ],
)
@pytest.mark.skipif(sys.platform == "win32", reason="no signals")
def test_a_child_that_falls_over_becomes_a_finding_that_says_how(
    made, study, monkeypatch, statement, said
):
    monkeypatch.setattr(child, "_WAIT", child_that(statement))
    found = reasons(check_apart(made.write(), study))
    assert [text for text in found if said in text] == found


@linux
@pytest.mark.parametrize(("key", "most"), [("memory_mb", 200), ("database_mb", 1)])
def test_a_child_that_runs_out_of_memory_names_the_limit(made, study, monkeypatch, key, most):
    # The limits stand in one file; the child of this test reads them otherwise.
    lower = f"import rigledger.contract.limits as l; l._limits()['parse']['{key}'] = {most};"
    start = child._WAIT.replace("from $module", f"{lower} from $module", 1)
    monkeypatch.setattr(child, "_WAIT", start)
    (found,) = reasons(check_apart(made.write(), study))
    assert f"the limit parse.{key} = " in found


@pytest.mark.parametrize(
    "statement",
    [
        "import socket; socket.create_connection(('127.0.0.1', 9))",
        "import socket; socket.getaddrinfo('localhost', 80)",
        "import os; os.system('true')",
        "import subprocess; subprocess.run(['true'])",
        "open('escaped.txt', 'w')",
        "Path('escaped.txt').write_text('x')",
        "Path('kept.txt').unlink()",
        "Path('kept.txt').rename('escaped.txt')",
        "Path('escaped').mkdir()",
        "import os; os.truncate('kept.txt', 5)",
        "import os; os.link('kept.txt', 'escaped.txt')",
        "import os; os.symlink('kept.txt', 'escaped.txt')",
    ],
)
def test_the_child_opens_no_socket_starts_nothing_and_changes_nothing_else(tmp_path, statement):
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    (tmp_path / "kept.txt").write_text("0123456789", encoding="utf-8")
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", CONFINED.format(statement=statement)],
        cwd=tmp_path,
        env=os.environ | dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(scratch)),
        check=False,
        capture_output=True,
    )
    assert (done.returncode, done.stderr) == (7, b"")
    assert sorted(tmp_path.iterdir()) == [tmp_path / "kept.txt", scratch]
    assert (tmp_path / "kept.txt").read_text(encoding="utf-8") == "0123456789"


@linux
def test_the_child_has_a_limit_on_memory():
    script = CONFINED.format(statement="bytearray(8 * 1024**3)")
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", script], check=False, capture_output=True
    )
    assert done.returncode == 7


def test_a_module_in_the_working_folder_is_never_run(made, study, tmp_path, monkeypatch):
    (tmp_path / "duckdb.py").write_text("raise SystemExit('run')", encoding="utf-8")
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(sys, "path", ["", *sys.path])
    assert check_apart(made.write(), study).verdict == "accepted"


@pytest.mark.skipif(os.name == "nt" or sys.platform == "darwin", reason="names are Unicode")
def test_a_path_that_is_no_text_is_refused_in_words(made, study):
    folder = made.write()
    odd = folder.with_name(os.fsdecode(b"set-\xff"))
    folder.rename(odd)
    with pytest.raises(IntakeError, match=r"set-.udcff: the path holds bytes that are no text"):
        check_apart(odd, study)


def test_a_name_in_another_script_is_fine(made, study):
    folder = made.write()
    other = folder.with_name("\u6e2c\u5b9a h\u00f6r & $x 'set'")
    folder.rename(other)
    assert check_apart(other, study).verdict == "accepted"
