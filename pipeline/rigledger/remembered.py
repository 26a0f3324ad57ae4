"""Remembers what was found for inputs with the same hash: in this process, and in a file if wanted.

What is remembered is a convenience: an entry that is missing, or a file that was damaged, altered
or can't be written, only costs the time of finding out again.
"""

from __future__ import annotations

import hashlib
import json
from collections import OrderedDict
from functools import cache, partial
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING, Any

import rigledger
from rigledger.contract.load import schema_folder
from rigledger.files import files_below, sha256_of, write_text

if TYPE_CHECKING:
    from collections.abc import Callable

_MOST_IN_PROCESS = 4096
_IN_PROCESS: OrderedDict[str, str] = OrderedDict()


@cache
def code_sha256() -> str:
    """Hash this program and its schema: every .py, .sql, .json and .toml file and more, by path."""
    digest = hashlib.sha256()
    package = Path(rigledger.__file__).parent
    for folder in (package, schema_folder()):
        for name in files_below(folder):
            if "__pycache__/" not in name:
                digest.update(f"{name} {sha256_of(folder / name)}\n".encode())
    return digest.hexdigest()


def key_of(*parts: object) -> str:
    """Hash what a result follows from, as JSON."""
    text = json.dumps(parts, ensure_ascii=False, sort_keys=True, separators=(",", ":"))
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def versions_of(*packages: str) -> dict[str, str]:
    """Give the installed versions of packages; those that are absent say so."""
    return {name: _version(name) for name in packages}


@cache
def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "absent"


class Remembered:
    """JSON values by the hash of everything they follow from.

    Keys must include the versions of the programs that find the values; this program's own code is
    part of every key in the file.
    """

    def __init__(self, file: Path | None = None) -> None:
        """Remember in this process alone, or in a file too.

        Args:
            file: JSON file, which need not exist.
        """
        self._file = file
        self._held: dict[str, str] = {} if file is None else _read(file)
        self._used: dict[str, str] = {}

    def knows(self, key: str) -> bool:
        """Tell whether a value is remembered for a key."""
        return key in self._held or key in _IN_PROCESS

    def recall(self, key: str, find: Callable[[], Any]) -> Any:  # noqa: ANN401 - any JSON value
        """Give the value for a key: as remembered, or found now and remembered.

        Args:
            key: Hash of everything that the value follows from, as of `key_of`.
            find: Finds the value; whatever it raises is not remembered.
        """
        text = self._held.get(key) or _IN_PROCESS.get(key)
        if text is None:
            text = json.dumps(find(), ensure_ascii=False)
        self._used[key] = text
        _IN_PROCESS[key] = text
        _IN_PROCESS.move_to_end(key)
        if len(_IN_PROCESS) > _MOST_IN_PROCESS:
            _IN_PROCESS.popitem(last=False)
        return json.loads(text)

    def later(self, key: str, begin: Callable[[], Callable[[], Any]]) -> Callable[[], Any]:
        """Give what waits for a value: as remembered by now, or to be found by what is begun now.

        Args:
            key: As for `recall`.
            begin: Begins to find the value, and gives what waits for it.
        """
        if self.knows(key):
            # Taken now: until it is wanted, others may take its place in the process.
            value = self.recall(key, dict)
            return lambda: value
        return partial(self.recall, key, begin())

    def keep(self, *, forget: bool = True) -> None:
        """Write what was recalled since the file was read.

        Args:
            forget: Whether what was not recalled is forgotten.
        """
        kept = self._used if forget else self._held | self._used
        if self._file is None or kept == self._held:
            return
        text = json.dumps(kept, ensure_ascii=False, sort_keys=True, indent=0)
        try:
            write_text(self._file, f"{_seal(text)}\n{text}\n")
        except OSError:
            return
        self._held = dict(kept)


def _read(file: Path) -> dict[str, str]:
    """Read what a file remembers; nothing where its first line is not the hash of its rest."""
    try:
        seal, text = file.read_text(encoding="utf-8").rstrip("\n").split("\n", 1)
        held: dict[str, str] = json.loads(text) if seal == _seal(text) else {}
    except (OSError, ValueError):
        return {}
    return held


def _seal(text: str) -> str:
    """Hash a file's text together with this program, whose change makes it forget."""
    return hashlib.sha256(f"{code_sha256()}\n{text}".encode()).hexdigest()
