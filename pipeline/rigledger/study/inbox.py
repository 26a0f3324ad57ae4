"""Several sets waiting in one folder, and the next revision of a set that grows."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING

import tomli_w

from rigledger.errors import RigledgerError, StudyError
from rigledger.files import write_text
from rigledger.study.admit import AdmitResult, admit
from rigledger.study.decisions import read_decisions

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterable
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

MANIFEST = "result-set.toml"
_FILES = (".zip", ".xlsx")
_REVISION = re.compile(r"(?P<name>.+)-r(?P<number>[0-9]+)")


@dataclass(frozen=True, slots=True)
class InboxResult:
    """What came of one waiting set.

    Attributes:
        path: The set.
        result: Its check and decision; None where it was refused before that.
        refused: Why it was refused; None where it was checked.
    """

    path: Path
    result: AdmitResult | None
    refused: RigledgerError | None

    @property
    def admitted(self) -> bool:
        """Whether the set is now part of the study."""
        return self.result is not None and self.result.admitted


def waiting_sets(inbox: Path) -> list[Path]:
    """List the sets in a folder, by name: folders with a result-set.toml, archives, workbooks.

    Raises:
        StudyError: There is no such folder.
    """
    if not inbox.is_dir():
        raise StudyError("there is no such folder", file=str(inbox))
    return [path for path in sorted(inbox.iterdir()) if _is_set(path)]


def _is_set(path: Path) -> bool:
    # Spreadsheets leave a lock file whose name starts with ~$ beside an open workbook.
    if path.name.startswith((".", "~$")):
        return False
    if path.is_dir():
        return (path / MANIFEST).is_file()
    return path.suffix.lower() in _FILES


def admit_all(study: StudyFolder, inbox: Path, *, received_on: dt.date) -> list[InboxResult]:
    """Admit every set in a folder; one that is returned or refused stops none of the others.

    A set that supersedes another one of the same folder is taken after it, whatever their names.

    Args:
        study: The study.
        inbox: The folder; nothing in it is changed.
        received_on: Day of the decisions.

    Returns:
        A result for each set, by name.
    """
    done: dict[Path, InboxResult] = {}
    left = waiting_sets(inbox)
    while left:
        made = {path: _admit_one(study, path, received_on) for path in left}
        done |= made
        taken = any(held.admitted for held in made.values())
        left = [path for path in left if taken and _may_wait(made[path])]
    return [done[path] for path in sorted(done)]


def _admit_one(study: StudyFolder, path: Path, received_on: dt.date) -> InboxResult:
    try:
        return InboxResult(path, admit(study, path, received_on=received_on), None)
    except RigledgerError as error:
        return InboxResult(path, None, error)


def _may_wait(held: InboxResult) -> bool:
    """Whether a set may yet be taken: what it supersedes may have come in since."""
    return held.refused is not None and held.refused.message.startswith("no set ")


def next_revision(folder: Path, study: StudyFolder) -> tuple[str, str] | None:
    """Make a set that is being measured the next revision of its admitted self.

    A set that grows from day to day is handed in anew each time, whole: it needs a name of its own
    and says which set it replaces. The two lines are rewritten in result-set.toml; nothing else in
    it is touched.

    Args:
        folder: The set's folder, outside the study.
        study: The study.

    Returns:
        The new set name and the one it supersedes; None where the set wasn't admitted yet and
        nothing was changed.

    Raises:
        StudyError: The set's result-set.toml can't be read, or an earlier revision is not in force.
    """
    path = folder / MANIFEST
    said, text = _said(path)
    decisions = read_decisions(study.decisions)
    current = f"{said['contributor']}.{said['set']}"
    if decisions.decision(current) is None:
        return None
    if decisions.state(current) != "admitted":
        raise StudyError(
            f"{current} is no longer in force, it is {decisions.state(current)}",
            file=path.name,
            column="set.set",
            value=said["set"],
        )
    name = _following(said["set"])
    changed = _with_pairs(text, {"set": name, "supersedes": said["set"]})
    if tomllib.loads(changed)["set"] != said | {"set": name, "supersedes": said["set"]}:
        raise StudyError(
            "the lines `set` and `supersedes` can't be rewritten safely",
            file=path.name,
            next_step=f'write set = "{name}" and supersedes = "{said["set"]}" by hand',
        )
    write_text(path, changed)
    return name, said["set"]


def _said(path: Path) -> tuple[dict[str, str], str]:
    try:
        text = path.read_text(encoding="utf-8-sig")
        said = tomllib.loads(text)["set"]
        return said | {name: said[name] for name in ("set", "contributor")}, text
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise StudyError(
            "can't be read as a set's own file", file=str(path), next_step="check the set first"
        ) from error


def _following(name: str) -> str:
    match = _REVISION.fullmatch(name)
    return f"{match['name']}-r{int(match['number']) + 1}" if match else f"{name}-r2"


def _with_pairs(text: str, pairs: dict[str, str]) -> str:
    """Set keys of the part [set]: where they stand, commented or not, else behind its head."""
    lines = text.splitlines(keepends=True)
    start = next(number for number, line in enumerate(lines) if line.strip() == "[set]") + 1
    end = next((n for n in range(start, len(lines)) if lines[n].startswith("[")), len(lines))
    part = lines[start:end]
    for key, value in pairs.items():
        part = list(_with_pair(part, key, tomli_w.dumps({key: value})))
    return "".join([*lines[:start], *part, *lines[end:]])


def _with_pair(part: list[str], key: str, line: str) -> Iterable[str]:
    stands = [n for n, held in enumerate(part) if re.match(rf"(# )?{key}\s*=", held)]
    if not stands:
        yield line
    for number, held in enumerate(part):
        yield line if stands and number == stands[0] else held
