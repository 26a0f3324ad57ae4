"""One writer at a time in a study: its lock, who holds it, and tidying up after one that died.

The system frees the lock of a process that ends in any way, so a dead one never blocks. Beside the
lock lies a note of who holds it. A writer that ends well takes its note away: a note that is there
when the lock is free says that the writer before was stopped, and what it left is swept.
"""

from __future__ import annotations

import datetime as dt
import json
import os
import socket
import threading
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING

from rigledger.errors import MissingExtraError, RigledgerError, StudyError
from rigledger.files import sync_file, sync_folder
from rigledger.storage import told_storage_errors
from rigledger.study.housekeeping import tidy

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

_WAIT_SECONDS = 10.0
_held: set[tuple[int, int, str]] = set()


class StudyLockedError(StudyError):
    """Another process is writing to the study; the message says which."""

    code = "study_locked"


@contextmanager
def locked(study: StudyFolder, command: str, *, wait: float | None = None) -> Iterator[None]:
    """Hold the study's lock: one writer at a time, which may ask for it again within.

    What a writer left that was stopped is removed first.

    Args:
        study: The study.
        command: What is being done, for those who wait: ``admit``.
        wait: Seconds to wait for another writer; None for ten.

    Raises:
        StudyLockedError: Another process holds it.
        StorageError: What is done within fails on a full, damaged or read-only disk, or because a
            file vanished.
        MissingExtraError: The curator's packages are not installed.
    """
    mine = (os.getpid(), threading.get_ident(), str(study.root.resolve()))
    if mine in _held:
        yield
        return
    with told_storage_errors(), _system_lock(study, _WAIT_SECONDS if wait is None else wait):
        if study.holder.exists():
            tidy(study)
        _note(study.holder, command)
        _held.add(mine)
        try:
            yield
        except RigledgerError:
            _end_well(study)  # a refusal is an end like any other
            raise
        finally:
            _held.discard(mine)
        _end_well(study)


def _end_well(study: StudyFolder) -> None:
    with suppress(OSError):
        study.holder.unlink()


@contextmanager
def _system_lock(study: StudyFolder, wait: float) -> Iterator[None]:
    try:
        import filelock
    except ImportError as error:
        raise MissingExtraError(
            "writing to a study needs the curator's packages",
            next_step='pip install "rigledger[curator]"',
        ) from error
    lock = filelock.FileLock(str(study.lock), timeout=wait)
    try:
        lock.acquire()
    except filelock.Timeout as error:
        raise StudyLockedError(
            f"the study is being written to by {_holder(study.holder)}",
            file=str(study.lock),
            next_step="wait until it has ended, then try again",
        ) from error
    try:
        yield
    finally:
        lock.release()


def _note(path: Path, command: str) -> None:
    """Write who holds the lock. In place: what counts is that it is there, torn or not."""
    said = {
        "command": command,
        "process": os.getpid(),
        "host": socket.gethostname(),
        # The one use of the clock: it tells a person who waits, and is compared with nothing.
        "since": dt.datetime.now(tz=dt.UTC).strftime("%Y-%m-%d %H:%M:%S UTC"),
    }
    path.write_text(json.dumps(said) + "\n", encoding="utf-8", newline="\n")
    sync_file(path)
    sync_folder(path.parent)


def _holder(path: Path) -> str:
    try:
        said = json.loads(path.read_text(encoding="utf-8"))
        return (
            f"`rigledger {said['command']}`, process {said['process']} on {said['host']},"
            f" since {said['since']}"
        )
    except (OSError, ValueError, KeyError, TypeError):
        return "another process, which left no note of itself"
