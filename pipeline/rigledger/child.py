"""Starts a process of ours with the same interpreter, that imports what this one would."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from string import Template
from typing import IO, TYPE_CHECKING

import rigledger

if TYPE_CHECKING:
    from collections.abc import Iterable

_START = (
    "import json, sys; sys.path[:] = json.loads(sys.argv.pop()); from $module import main; main()"
)


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
    options = ["-I", "-X", "utf8=1", "-c", Template(_START).safe_substitute(module=module)]
    command: list[str | Path] = [sys.executable, *options, place, json.dumps(_import_paths())]
    return subprocess.Popen(  # noqa: S603 - our own interpreter and module
        command, stdin=stdin, stdout=stdout, stderr=errors
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
