"""The files of a study that its tables follow from."""

from __future__ import annotations

import tomllib
from typing import TYPE_CHECKING

from rigledger.files import files_below, sha256_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

# What of a study the tables don't follow from, among the files that lie in its folder.
_NOT_INPUT = frozenset({"claims.toml", "releases.toml"})
_SETS = "sets/"


def input_hashes(study: StudyFolder) -> dict[str, str]:
    """Hash each file but captures: the study's own by name, those of its sets by path.

    The register that the study shares with others, if it does, is ``register``.
    """
    return {name: sha256_of(path) for name, path in _files(study)}


def set_of(name: str) -> str | None:
    """Give the set that a file of `input_hashes` belongs to; None for the study's own."""
    return name.split("/")[1] if name.startswith(_SETS) else None


def _files(study: StudyFolder) -> Iterator[tuple[str, Path]]:
    for path in sorted(study.root.glob("*.toml")):
        if path.name not in _NOT_INPUT:
            yield path.name, path
    for path in _register(study):
        yield "register", path  # it may have the name of a file of the study's own
    for name in files_below(study.sets) if study.sets.is_dir() else ():
        yield f"{_SETS}{name}", study.sets / name


def _register(study: StudyFolder) -> Iterator[Path]:
    """Give the register that a study shares with others, where it names one."""
    try:
        named = tomllib.loads(study.toml.read_text(encoding="utf-8"))["register"]["file"]
        path = study.root / named
    except (OSError, ValueError, KeyError, TypeError):
        return  # reading the design says what is wrong
    if path.is_file():
        yield path
