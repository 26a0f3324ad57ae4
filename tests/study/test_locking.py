"""One writer at a time: who waits is told who holds the lock, and the dead block nobody."""

from __future__ import annotations

import errno
import json
import os
import re
import socket
import subprocess
import sys
import uuid
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.storage import StorageError
from rigledger.study.locking import StudyLockedError, locked

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

# Leaves beside the lock what a writer was at work on, then dies.
KILLED = """
import os, signal, sys
from pathlib import Path
from rigledger.study.layout import open_study
from rigledger.study.locking import locked
study = open_study(Path(sys.argv[1]))
with locked(study, "admit"):
    part = study.sets / f".anna.first.{'0' * 32}.part"
    part.mkdir(parents=True)
    (part / "runs.csv").write_text("half a li", encoding="utf-8")
    os.kill(os.getpid(), signal.SIGKILL)
"""


def _part(folder: Path, name: str) -> Path:
    return folder / f".{name}.{uuid.uuid4().hex}.part"


def _refused(study: StudyFolder) -> StudyLockedError:
    """Ask for the lock from another thread, as another process would."""

    def ask() -> None:
        with locked(study, "tables", wait=0):
            pass

    with ThreadPoolExecutor(1) as pool, pytest.raises(StudyLockedError) as caught:
        pool.submit(ask).result()
    return caught.value


def test_who_finds_the_lock_held_is_told_by_whom_and_what_to_do(study: StudyFolder) -> None:
    with locked(study, "admit"):
        error = _refused(study)
    who = f"`rigledger admit`, process {os.getpid()} on {re.escape(socket.gethostname())}"
    day = r"since \d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC"
    assert re.fullmatch(f"the study is being written to by {who}, {day}", error.message)
    assert isinstance(error, StudyError)
    assert (error.code, error.file) == ("study_locked", str(study.lock))
    assert error.next_step == "wait until it has ended, then try again"


def test_a_holder_without_a_note_is_told_too(study: StudyFolder) -> None:
    with locked(study, "admit"):
        study.holder.write_text("{", encoding="utf-8")
        error = _refused(study)
    assert error.message.endswith("by another process, which left no note of itself")


def test_who_holds_the_lock_may_ask_for_it_again_and_leaves_nothing(study: StudyFolder) -> None:
    with locked(study, "release"):
        with locked(study, "tables", wait=0):
            pass
        assert json.loads(study.holder.read_text(encoding="utf-8"))["command"] == "release"
    assert not study.holder.exists()


def test_a_refusal_within_is_an_end_like_any_other(study: StudyFolder) -> None:
    with pytest.raises(StudyError, match="no such set"), locked(study, "withdraw"):
        raise StudyError("no such set")
    assert not study.holder.exists()


@pytest.mark.skipif(sys.platform == "win32", reason="no SIGKILL")
def test_a_killed_writer_blocks_nobody_and_what_it_left_is_swept(study: StudyFolder) -> None:
    command = [sys.executable, "-c", KILLED, str(study.root)]
    assert subprocess.run(command, check=False).returncode == -9  # noqa: S603 - our own interpreter
    assert study.holder.exists()
    with locked(study, "tables", wait=0):
        assert list(study.sets.iterdir()) == []


def test_only_what_writers_of_the_study_leave_is_swept(study: StudyFolder) -> None:
    study.holder.write_text("{}", encoding="utf-8")
    study.sets.mkdir()
    swept = [_part(study.root, "decisions.toml"), _part(study.sets, "set")]
    swept.append(study.captures / f"{_part(study.captures, 'ab.parquet').name}.wal")
    # Of another command, which holds no lock; of the tester; and what merely looks like it.
    kept = [_part(study.root, "kit"), study.sets / ".notes.part", study.sets / "anna.first.part"]
    study.captures.mkdir()
    for path in (*swept, *kept):
        path.write_text("half a li", encoding="utf-8")
    with locked(study, "admit"):
        assert [path.exists() for path in swept] == [False, False, False]
        assert all(path.exists() for path in kept)


def test_a_writer_that_ended_well_leaves_nothing_to_look_for(study: StudyFolder) -> None:
    study.sets.mkdir()
    part = _part(study.sets, "set")
    part.mkdir()
    with locked(study, "admit"):
        assert part.exists()


def test_a_folder_that_may_not_be_written_is_named(
    study: StudyFolder, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = os.open

    def refused(path: str, flags: int, *mode: int, **more: int) -> int:
        if flags & (os.O_WRONLY | os.O_RDWR):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), str(path))
        return real(path, flags, *mode, **more)

    monkeypatch.setattr(os, "open", refused)
    with pytest.raises(StorageError) as caught, locked(study, "admit"):
        raise AssertionError("the lock was taken")
    assert caught.value.file == str(study.lock)
    assert caught.value.message == "it may not be written or read; nothing is left half-written"
