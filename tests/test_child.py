"""A process begun ahead waits to be told where to work, and goes with the one that began it."""

from __future__ import annotations

import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from rigledger import child

if TYPE_CHECKING:
    from pathlib import Path

MODULE = """
import sys
from pathlib import Path

def load():
    pass

def main():
    Path(sys.argv[1], "been-here").touch()
    sys.exit("seen")
"""


@pytest.fixture
def module(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> str:
    (tmp_path / "worker_of_a_test.py").write_text(MODULE, encoding="utf-8")
    monkeypatch.syspath_prepend(str(tmp_path))
    return "worker_of_a_test"


def test_the_one_that_was_begun_is_taken_once(module: str) -> None:
    child.begin(module)
    first, second = child.taken(module), child.taken(module)
    for waiting in (first, second):
        with waiting.errors, waiting.process as process:
            process.kill()
    assert first.process.pid != second.process.pid


def test_told_a_folder_it_works_there_and_its_last_words_are_known(
    module: str, tmp_path: Path
) -> None:
    waiting = child.taken(module)
    with waiting.errors, waiting.process as process:
        waiting.tell(tmp_path)
        assert process.wait(60) == 1
        assert waiting.last_words() == "seen"
    assert (tmp_path / "been-here").is_file()


def test_told_nothing_it_ends_well(module: str, tmp_path: Path) -> None:
    waiting = child.taken(module)
    with waiting.errors, waiting.process as process:
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(60) == 0
    assert not (tmp_path / "been-here").exists()


def test_one_that_is_gone_can_be_told_all_the_same(module: str, tmp_path: Path) -> None:
    waiting = child.taken(module)
    with waiting.errors, waiting.process as process:
        process.kill()
        process.wait(60)
        waiting.tell(tmp_path)


def test_where_none_can_be_started_whoever_takes_it_is_told(
    module: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_: object, **__: object) -> None:
        raise BlockingIOError("too many processes")

    monkeypatch.setattr(subprocess, "Popen", refuse)
    child.begin(module)
    with pytest.raises(BlockingIOError, match="too many processes"):
        child.taken(module)


def test_a_command_that_is_used_wrongly_leaves_no_process(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "rigledger", "check"]
    done = subprocess.run(  # noqa: S603 - our own interpreter
        command, cwd=tmp_path, capture_output=True, text=True, check=False, timeout=60
    )
    assert done.returncode == 2
    assert "Missing argument 'path'" in done.stderr
