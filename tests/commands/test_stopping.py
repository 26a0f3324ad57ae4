"""Ctrl-C and a disk that refuses end in a sentence; the study is as it was before."""

from __future__ import annotations

import errno
import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest
import typer

from rigledger.console import INTERRUPTED, WRONG_USE, plain_errors

if TYPE_CHECKING:
    from pathlib import Path

# Tables whose building takes the database long; it says so once it has begun.
SLOW = '''
import sys
from rigledger.database import connect
from rigledger.tables import write

QUERY = """
select count(*) from range(10_000_000) a, range(1_000_000) b where a.range = -b.range
"""

def build(*words, **more):
    print("building", flush=True)
    connect().execute(QUERY)

write.build_study = build
from rigledger.cli import app
app(["tables", sys.argv[1]])
'''


@pytest.mark.skipif(sys.platform == "win32", reason="Ctrl-C is no signal there")
def test_ctrl_c_ends_a_command_with_one_sentence(tmp_path: Path) -> None:
    (tmp_path / "study.toml").write_text("", encoding="utf-8")
    with subprocess.Popen(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", SLOW, str(tmp_path)],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    ) as command:  # fmt: skip
        assert command.stdout is not None
        assert command.stdout.readline() == "building\n"
        command.send_signal(signal.SIGINT)
        said, errors = command.communicate()
    assert (command.returncode, said) == (130, "")
    assert errors == "Stopped: nothing is left half-written; run the command again.\n"
    assert not (tmp_path / "derived").exists()


def test_ctrl_c_outside_the_database_ends_the_same_way(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(typer.Exit) as caught, plain_errors():
        raise KeyboardInterrupt
    assert caught.value.exit_code == INTERRUPTED
    assert capsys.readouterr().err.startswith("Stopped: ")


def test_a_disk_that_refuses_is_told_with_the_next_step(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(typer.Exit) as caught, plain_errors():
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), "runs.csv")
    assert caught.value.exit_code == WRONG_USE
    assert capsys.readouterr().err == (
        "file runs.csv: there is no room left on the disk; nothing is left half-written\n"
        "Next step: make room, then run the command again\n"
    )
