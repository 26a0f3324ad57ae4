"""What the disk refuses is said in a sentence, whoever met it first."""

from __future__ import annotations

import errno
import os

import duckdb
import pytest

from rigledger.storage import StorageError, storage_error, told_storage_errors


@pytest.mark.parametrize(
    ("number", "said"),
    [
        (errno.ENOSPC, "there is no room left on the disk"),
        (errno.EIO, "the disk reports an error"),
        (errno.EROFS, "it may not be written or read"),
        (errno.EACCES, "it may not be written or read"),
        (errno.ENOENT, "it is not there, or vanished while it was read"),
        (errno.EXDEV, os.strerror(errno.EXDEV)),
    ],
)
def test_the_same_words_for_python_and_for_the_database(number: int, said: str) -> None:
    told = storage_error(OSError(number, os.strerror(number), "runs.csv"))
    assert told is not None
    assert (told.code, told.file) == ("storage", "runs.csv")
    assert told.message == f"{said}; nothing is left half-written"
    assert told.next_step

    text = f"IO Error: Could not write file: {os.strerror(number)}\nand more"
    of_database = storage_error(duckdb.IOException(text))
    assert of_database is not None
    assert of_database.message == (
        told.message
        if number != errno.EXDEV
        else f"{text.splitlines()[0]}; nothing is left half-written"
    )


@pytest.mark.parametrize("error", [ZeroDivisionError(), BrokenPipeError(errno.EPIPE, "closed")])
def test_any_other_error_stays_what_it_is(error: Exception) -> None:
    with pytest.raises(type(error)) as caught, told_storage_errors():
        raise error
    assert caught.value is error


def test_the_cause_is_kept() -> None:
    cause = OSError(errno.ENOSPC, "full", "runs.csv")
    with pytest.raises(StorageError) as caught, told_storage_errors():
        raise cause
    assert caught.value.__cause__ is cause
