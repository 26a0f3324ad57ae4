# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""The child process that reads strangers' sets."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest

from rigledger.errors import StudyError
from rigledger.intake import apart
from rigledger.intake.apart import check_apart
from rigledger.intake.check import check_set
from rigledger.intake.gate import IntakeError

CONFINED = """
import sys, tempfile
from pathlib import Path
from rigledger.intake.apart import _confine
_confine(Path(tempfile.gettempdir()))
try:
    {statement}
except (PermissionError, MemoryError) as error:
    sys.exit(7)
"""


def test_it_comes_to_the_same_result(made, study):
    made.runs[0]["level"] = "X16"
    folder = made.write()
    assert check_apart(folder, study) == check_set(folder, study)


def test_wrong_use_is_raised_here_as_there(made, study, tmp_path):
    with pytest.raises(IntakeError, match="no such file"):
        check_apart(tmp_path / "nothing", study)
    with pytest.raises(StudyError):
        check_apart(made.write(), tmp_path / "nothing")


def test_a_child_that_takes_too_long_is_stopped_with_a_finding(made, study, monkeypatch):
    monkeypatch.setattr(apart, "limit", lambda key: 0.01 if key == "parse.seconds" else 1)
    result = check_apart(made.write(), study)
    assert (result.verdict, [f.rule for f in result.findings]) == ("returned", ["reader_stopped"])


@pytest.mark.parametrize(
    "statement",
    [
        "import socket; socket.create_connection(('127.0.0.1', 9))",
        "import socket; socket.getaddrinfo('localhost', 80)",
        "import os; os.system('true')",
        "import subprocess; subprocess.run(['true'])",
        "open('escaped.txt', 'w')",
        "Path('escaped.txt').write_text('x')",
    ],
)
def test_the_child_opens_no_socket_starts_nothing_and_writes_nowhere_else(tmp_path, statement):
    scratch = tmp_path / "scratch"
    scratch.mkdir()
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-I", "-c", CONFINED.format(statement=statement)],
        cwd=tmp_path,
        env=os.environ | dict.fromkeys(("TMPDIR", "TEMP", "TMP"), str(scratch)),
        check=False,
        capture_output=True,
    )
    assert (done.returncode, done.stderr) == (7, b"")
    assert list(tmp_path.iterdir()) == [scratch]


@pytest.mark.skipif(sys.platform != "linux", reason="address space is limited on Linux only")
def test_the_child_has_a_limit_on_memory():
    script = CONFINED.format(statement="bytearray(8 * 1024**3)")
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-I", "-c", script], check=False, capture_output=True
    )
    assert done.returncode == 7
