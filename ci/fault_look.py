"""What a study holds, and whether that is what it held before, or holds after, a command."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.files import LEFT_OVER, hashes_below, sha256_of
from rigledger.release.folder import SUMS
from rigledger.release.integrity import sums_differences
from rigledger.release.register import read_register
from rigledger.study.admitted import check_unaltered
from rigledger.study.decisions import read_decisions
from rigledger.study.design import read_design
from rigledger.tables.write import current_tables

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

State = dict[str, dict[str, str]]
"""Each thing that changes in one step, by name: the hashes of its files by path."""
OLD, NEW = "old", "new"
_DECIDES = {"admit": "decisions.toml", "tables": "derived", "release": "releases.toml"}


class FallenError(Exception):
    """A study is not as it should be after a fault."""


def state_of(study: StudyFolder) -> State:
    """Hash what a study holds, but for the lock and what was left half-done."""
    found = {path.name: {"": sha256_of(path)} for path in _own_files(study)}
    for folder in (study.sets, study.published, study.captures):
        for path in _visible(folder):
            held = hashes_below(path) if path.is_dir() else {"": sha256_of(path)}
            found[f"{folder.name}/{path.name}"] = held
    tables = current_tables(study.derived)
    return found if tables is None else found | {"derived": hashes_below(tables)}


def _own_files(study: StudyFolder) -> list[Path]:
    locks = {study.lock.name, study.holder.name}
    files = (path for path in study.root.iterdir() if path.is_file())
    return [path for path in files if path.name not in locks and not LEFT_OVER.fullmatch(path.name)]


def _visible(folder: Path) -> Iterator[Path]:
    if folder.is_dir():
        yield from (path for path in folder.iterdir() if not path.name.startswith("."))


def look(study: StudyFolder, command: str, before: State, after: State) -> str:
    """Say whether a study is as before or as after a command.

    Raises:
        FallenError: It is neither, or something is lost.
        RigledgerError: It does not open.
    """
    _open(study)
    held = state_of(study)
    for name in before.keys() - held.keys():
        raise FallenError(f"{name} is gone")
    for name, hashes in held.items():
        if hashes not in (before.get(name), after.get(name)):
            raise FallenError(f"{name} is neither as before nor as after")
    if held.get(_DECIDES[command]) != after[_DECIDES[command]]:
        return OLD
    if held != after:
        raise FallenError(f"{_DECIDES[command]} is new and other things are not")
    return NEW


def _open(study: StudyFolder) -> None:
    read_design(study.toml)
    for decision in read_decisions(study.decisions).decisions:
        check_unaltered(study, decision)
    releases = {sha256_of(path / SUMS): path for path in _visible(study.published)}
    for entry in read_register(study.releases):
        if entry.fingerprint not in releases:
            raise FallenError(f"release {entry.version} is registered and not there")
        if sums_differences(releases[entry.fingerprint]):
            raise FallenError(f"release {entry.version} is not whole")


def check_end(study: StudyFolder, after: Mapping[str, Mapping[str, str]]) -> None:
    """Hold a study in which a command completed against the undisturbed one.

    Raises:
        FallenError: Bytes differ, or something is left over.
    """
    held = state_of(study)
    if held != after:
        names = sorted(n for n in held.keys() | after.keys() if held.get(n) != after.get(n))
        raise FallenError(f"run again, it gives other bytes: {', '.join(names)}")
    left = [path.name for path in study.root.rglob("*") if LEFT_OVER.fullmatch(path.name)]
    tables = [path.name for path in study.derived.glob("tables-*")]
    if left or len(tables) > 1:
        raise FallenError(f"run again, it leaves {', '.join(left + tables[1:])}")
