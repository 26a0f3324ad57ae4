"""Starts a process of ours with the same interpreter, that imports what this one would."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from contextlib import ExitStack, suppress
from dataclasses import dataclass
from pathlib import Path
from string import Template
from tempfile import TemporaryFile
from typing import IO, TYPE_CHECKING

import rigledger

if TYPE_CHECKING:
    from collections.abc import Iterable

CHECKER = "rigledger.intake.confine"
"""The module whose process reads strangers' sets."""

_BEGIN = """
import json, sys
sys.path[:] = json.loads(sys.argv.pop())
from rigledger.one_job import OneJob
job = OneJob()
"""
_START = f"""{_BEGIN}
from $module import main
main()
job.code = 0
"""
_WAIT = f"""{_BEGIN}
from $module import load, main
load()
told = sys.stdin.readline()
if told:
    sys.argv.append(json.loads(told))
    main()
job.code = 0
"""


def start(
    module: str,
    place: Path,
    errors: IO[bytes],
    *,
    stdin: int = subprocess.DEVNULL,
    stdout: int = subprocess.DEVNULL,
) -> subprocess.Popen[bytes]:
    """Start a process that runs a module's ``main`` and works in a folder.

    It is isolated: neither the working folder nor a variable of the environment says what is
    imported.

    Args:
        module: Name of the module.
        place: The folder, its first argument.
        errors: Open file that takes what it writes to its standard error.
        stdin: Its standard input, as for `subprocess`.
        stdout: Its standard output.
    """
    return _started(_START, module, [place], errors, stdin=stdin, stdout=stdout)


@dataclass(frozen=True, slots=True)
class Waiting:
    """A process that has loaded, or is loading, what it needs and waits for the folder to work in.

    When this process ends, it ends too.

    Attributes:
        process: The process.
        errors: Takes what it writes to its standard error.
    """

    process: subprocess.Popen[bytes]
    errors: IO[bytes]

    def tell(self, place: Path) -> None:
        """Have it run its module's ``main`` in a folder, its first argument."""
        if self.process.stdin is None:
            return
        with suppress(OSError):  # its exit code and its errors say why it is gone
            self.process.stdin.write(json.dumps(as_utf8(place)).encode("ascii") + b"\n")

    def last_words(self) -> str:
        """Give the last line that it wrote to its standard error."""
        self.errors.seek(0)
        return last_line(self.errors.read().decode("utf-8", "replace").split("\n"))


_WAITING: dict[str, Waiting] = {}


def begin(module: str) -> None:
    """Start a process for a module that will be wanted, while this one is still being loaded."""
    with suppress(OSError):  # whoever takes it tries again, and says what is wrong
        _WAITING[module] = _waiting(module)


def taken(module: str) -> Waiting:
    """Give the process that was begun for a module, or one that is begun now."""
    return _WAITING.pop(module, None) or _waiting(module)


def _waiting(module: str) -> Waiting:
    with ExitStack() as failing:
        errors = failing.enter_context(TemporaryFile())
        # Unbuffered: what could not be said to one that is gone is not said again at the end.
        pipe = subprocess.PIPE
        process = _started(_WAIT, module, [], errors, stdin=pipe, buffer=0)
        failing.pop_all()  # both stay open, to be closed by whoever takes them
    return Waiting(process, errors)


def _started(
    code: str,
    module: str,
    arguments: list[Path],
    errors: IO[bytes],
    *,
    stdin: int,
    stdout: int = subprocess.DEVNULL,
    buffer: int = -1,
) -> subprocess.Popen[bytes]:
    options = ["-I", "-X", "utf8=1", "-c", Template(code).safe_substitute(module=module)]
    command: list[str | Path] = [sys.executable, *options, *arguments, json.dumps(_import_paths())]
    return subprocess.Popen(  # noqa: S603 - our own interpreter and module
        command, bufsize=buffer, stdin=stdin, stdout=stdout, stderr=errors
    )


def as_utf8(path: Path) -> str:
    """Give a path as the child reads it, which takes names for UTF-8 whatever the locale here."""
    return os.fsencode(path.absolute()).decode("utf-8", "surrogateescape")


def last_line(lines: Iterable[str]) -> str:
    """Give the last line that says anything, of what a process wrote before it fell over."""
    return next((line for line in reversed(list(lines)) if line.strip()), "")


def _import_paths() -> list[str]:
    """Give where packages are imported from, but for the working folder."""
    own = Path(rigledger.__file__).parents[1]
    paths = [own, *(Path(path) for path in sys.path if path and Path(path) != Path.cwd())]
    return [as_utf8(path) for path in dict.fromkeys(paths)]
