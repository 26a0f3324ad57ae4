"""The files of a study that its tables follow from."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

from rigledger.files import files_below

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

# What of a study the tables don't follow from, among the files that lie in its folder.
_NOT_INPUT = frozenset({"claims.toml", "releases.toml"})

Look = tuple[int, int, int]
"""Size, time of the last change, number."""


def input_files(study: StudyFolder) -> Iterator[tuple[str, Path]]:
    """Give name and path of each file but captures: the study's own first, then those of its sets.

    A name begins with ``sets/`` where the file is a set's.
    """
    for path in sorted([*study.root.glob("*.toml"), *_register(study)]):
        if path.name not in _NOT_INPUT:
            yield path.name, path
    for name in files_below(study.sets) if study.sets.is_dir() else ():
        yield f"sets/{name}", study.sets / name


def looks_of(study: StudyFolder) -> dict[str, Look]:
    """Say what can be seen of a study's files without reading them, by name.

    Where it is the same before and after something was read, nobody has written in the meantime.
    The folder of captures stands for which ones are in it.
    """
    found = {name: _look(path) for name, path in input_files(study)}
    if study.captures.is_dir():
        found["captures/"] = _look(study.captures)
    return found


def _look(path: Path) -> Look:
    held = path.stat()
    return held.st_size, held.st_mtime_ns, held.st_ino


def _register(study: StudyFolder) -> Iterator[Path]:
    """Give the register that a study shares with others, where it names one."""
    try:
        named = tomllib.loads(study.toml.read_text(encoding="utf-8"))["register"]["file"]
        path = study.root / named
    except (OSError, ValueError, KeyError, TypeError):
        return  # reading the design says what is wrong
    if path.is_file():
        yield path
