"""The process that reads a stranger's set: its limits, what it is refused, question and answer."""

from __future__ import annotations

import contextlib
import errno
import json
import os
import sys
import tempfile
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.contract.load import load_contract
from rigledger.errors import RigledgerError
from rigledger.intake.gate import IntakeError
from rigledger.intake.limits import limit, named
from rigledger.intake.text import printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.intake.result import CheckResult

QUESTION, ANSWER = "question.json", "answer.json"
WORK = "work"
"""Folder beside question and answer, the only one in which the process may write."""
KEPT, EXTRACTS = "kept", "extracts"
"""Folders in `WORK` for what a set's admission needs, where the question asks for it."""

# Events of the interpreter that reading a set never needs.
_REFUSED = ("socket.", "subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork")
# Events that change files, and which of their arguments are the paths that change.
_CHANGES = {
    "os.remove": (0,), "os.rmdir": (0,), "os.mkdir": (0,), "os.truncate": (0,), "os.chmod": (0,),
    "os.chown": (0,), "os.utime": (0,), "os.rename": (0, 1), "os.link": (1,), "os.symlink": (1,),
}  # fmt: skip
_PROCESSORS = 2
"""The database in the process works with two threads: its processor time runs twice as fast."""


def confine(work: Path) -> None:
    """Limit this process, then refuse what reading a set never needs.

    A system without the module ``resource`` (Windows) has no limit on the address space here; the
    limit on the database's own memory, the limit on time and the refusals hold there too.

    Args:
        work: The one folder in which it may write.
    """
    _limit_resources()
    inside = str(work.resolve())

    def refuse(event: str, arguments: tuple[Any, ...]) -> None:
        if event.startswith(_REFUSED):
            raise PermissionError(event)
        for path in _changed(event, arguments):
            if not _is_inside(path, inside):
                raise PermissionError(f"{event} of {path!r}")

    sys.addaudithook(refuse)


def _limit_resources() -> None:
    try:
        import resource
    except ImportError:
        return
    seconds = limit("parse.seconds") * _PROCESSORS
    wanted = {
        resource.RLIMIT_AS: limit("parse.memory_mb") * 1024 * 1024,
        resource.RLIMIT_CPU: seconds,
        resource.RLIMIT_CORE: 0,
    }
    for kind, most in wanted.items():
        _, hard = resource.getrlimit(kind)
        least = most if hard == resource.RLIM_INFINITY else min(most, hard)
        # A system may know a limit and still refuse to set it, as macOS does with address space.
        with contextlib.suppress(ValueError, OSError):
            resource.setrlimit(kind, (least, least))


def _changed(event: str, arguments: tuple[Any, ...]) -> Sequence[object]:
    """Give the paths that an event writes, makes, moves or removes."""
    if event == "open":
        return arguments[:1] if _writes(*arguments[1:3]) else ()
    if event not in _CHANGES or (event != "os.truncate" and _by_handle(arguments[-1])):
        return ()
    return [arguments[place] for place in _CHANGES[event]]


def _writes(mode: object, flags: object) -> bool:
    if isinstance(mode, str):
        return any(sign in mode for sign in "wax+")
    return isinstance(flags, int) and bool(flags & (os.O_WRONLY | os.O_RDWR))


def _by_handle(last: object) -> bool:
    """Whether a name is relative to an open folder, as when a temporary folder is cleared."""
    return isinstance(last, int) and last > 0


def _is_inside(path: object, folder: str) -> bool:
    if not isinstance(path, str | bytes | os.PathLike):
        return True  # a handle that is open already
    real = os.path.realpath(os.fsdecode(path))
    return real in {folder, os.path.realpath(os.devnull)} or real.startswith(folder + os.sep)


def load() -> None:
    """Load what a check needs, before it is known what is to be checked."""
    import_module("rigledger.intake.check")
    load_contract()


def main() -> None:
    """Read the question from the folder of the first argument, check, write the answer there."""
    place = Path(sys.argv[1])
    asked = json.loads((place / QUESTION).read_text(encoding="utf-8"))
    tempfile.tempdir = str(place / WORK)
    import duckdb

    from rigledger.intake.check import check_set

    sys.dont_write_bytecode = True
    with (place / ANSWER).open("w", encoding="utf-8", newline="\n") as answer:
        confine(place / WORK)
        study = None if asked["study"] is None else Path(asked["study"])
        into = {"keep": KEPT, "extracts": EXTRACTS} if asked["keep"] else {}
        asked_for = {name: place / WORK / folder for name, folder in into.items()}
        path = Path(asked["path"])
        try:
            held = _plain(check_set(path, study, captures=asked["captures"], **asked_for))
        except RigledgerError as error:
            held = {"error": error.as_dict()}
        except PermissionError as error:
            held = _may_not_read(error)
        except (duckdb.Error, MemoryError, OSError) as error:
            held = {"stopped": _out_of(error)}
        json.dump(held, answer)


def _may_not_read(error: PermissionError) -> dict[str, Any]:
    """Say that a file is held by another program, as on Windows one that is open elsewhere."""
    if error.filename is None:
        raise error  # one of our own refusals: nothing that reading a set should ever try
    message = "the file can't be read: another program holds it, or you may not read it"
    step = "close it in other programs, such as the spreadsheet, and try again"
    file = printable(Path(os.fsdecode(error.filename)).name)
    return {"error": IntakeError(message, file=file, next_step=step).as_dict()}


def _plain(result: CheckResult) -> dict[str, Any]:
    return {
        "findings": [list(finding.as_dict().values()) for finding in result.findings],
        "not_run": [[item.rule, item.because] for item in result.not_run],
        "set_id": result.set_id,
        "study": result.study,
        "counts": dict(result.counts),
    }


def _out_of(error: Exception) -> str:
    """Say which limit an error comes from; any other error is a fault of ours and goes on."""
    if type(error).__name__ == "OutOfMemoryException":
        # The database says the same of its own limits and of a process that gets no more memory.
        limits = (named(f"parse.{key}") for key in ("database_mb", "spill_mb", "memory_mb"))
        return f"its tables ran into one of its limits: {', '.join(limits)}"
    if isinstance(error, MemoryError):
        return f"it ran into {named('parse.memory_mb')}"
    if isinstance(error, OSError) and error.errno == errno.ENOSPC:
        return "there is no room left on the disk for temporary files"
    raise error
