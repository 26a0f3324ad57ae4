"""Several sets waiting in one folder."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.errors import RigledgerError, StudyError
from rigledger.study.admit import AdmitResult, admit

if TYPE_CHECKING:
    import datetime as dt
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

MANIFEST = "result-set.toml"
_FILES = (".zip", ".xlsx")


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
