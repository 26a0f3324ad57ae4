"""What a disk or a system refuses, said in a sentence: full, read-only, damaged, gone."""

from __future__ import annotations

import errno
import os
from contextlib import contextmanager
from typing import TYPE_CHECKING

from rigledger.errors import RigledgerError

if TYPE_CHECKING:
    from collections.abc import Iterator

_ROOM = ("there is no room left on the disk", "make room, then run the command again")
_RIGHT = (
    "it may not be written or read",
    "see who owns it and whether its disk is read-only, then run the command again",
)
_TOLD = {
    errno.ENOSPC: _ROOM,
    getattr(errno, "EDQUOT", errno.ENOSPC): _ROOM,
    errno.EFBIG: ("the file is larger than the system allows here", _ROOM[1]),
    errno.EIO: (
        "the disk reports an error",
        "see to the disk and copy the study elsewhere, then run the command again",
    ),
    errno.EROFS: _RIGHT,
    errno.EACCES: _RIGHT,
    errno.EPERM: _RIGHT,
    errno.ENOENT: (
        "it is not there, or vanished while it was read",
        "see that no other program moves files there, then run the command again",
    ),
}


class StorageError(RigledgerError):
    """The disk is full, damaged or read-only, or a file vanished; nothing is half-written."""

    code = "storage"


@contextmanager
def told_storage_errors() -> Iterator[None]:
    """Turn errors of disk and system into `StorageError`.

    Raises:
        StorageError: Something could not be read or written.
    """
    try:
        yield
    except Exception as error:
        told = storage_error(error)
        if told is None:
            raise
        raise told from error


def storage_error(error: Exception) -> StorageError | None:
    """Say in words what the disk or the system refused; None for any other error.

    That nobody reads on what is printed, as with ``| head``, is no error of the disk.
    """
    if isinstance(error, BrokenPipeError):
        return None
    if isinstance(error, OSError):
        file = None if error.filename is None else os.fsdecode(error.filename)
        return _told(error.errno, file, error.strerror or str(error))
    # The database is not imported for this: it says the same in an error of its own.
    if type(error).__name__ == "IOException" and "duckdb" in type(error).__module__:
        text = str(error).splitlines()[0]
        number = next((held for held in _TOLD if os.strerror(held) in text), None)
        return _told(number, None, text)
    return None


def _told(number: int | None, file: str | None, text: str) -> StorageError:
    message, step = _TOLD.get(number or 0, (text, "put right what it says, then try again"))
    return StorageError(f"{message}; nothing is left half-written", file=file, next_step=step)
