"""Takes a published release back: a block in the register, with the day and the reason."""

from __future__ import annotations

from typing import TYPE_CHECKING

import tomli_w

from rigledger.errors import near_names
from rigledger.files import write_text
from rigledger.release.errors import ReleaseError
from rigledger.release.register import Entry, read_register
from rigledger.study.locking import locked

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    from rigledger.study.layout import StudyFolder

_MOST = 400


def retract(study: StudyFolder, version: str, *, on: date, reason: str) -> Entry:
    """Take a release back. Its files stay where they are; whoever holds the register can tell.

    Args:
        study: The study.
        version: Version of the release.
        on: Day of the retraction.
        reason: Why, as published.

    Returns:
        The release as the register has it now.

    Raises:
        ReleaseError: No such release is registered, it is retracted already, the day lies before
            its release, or there is no reason.
        StudyLockedError: Another process is writing to the study.
    """
    with locked(study, "release --retract"):
        entry = _retractable(study.releases, version)
        reason = " ".join(reason.split())
        _check(study.releases, entry, on, reason)
        block = {"version": version, "on": on, "reason": reason}
        text = study.releases.read_text(encoding="utf-8")
        write_text(study.releases, f"{text}\n[[retraction]]\n{tomli_w.dumps(block)}")
        return next(held for held in read_register(study.releases) if held.version == version)


def _retractable(path: Path, version: str) -> Entry:
    known = {held.version: held for held in read_register(path)}
    if version not in known:
        raise ReleaseError(
            "no release of this version is registered", file=path.name, column="version",
            value=version, next_step=near_names(version, known) or "nothing was released yet",
        )  # fmt: skip
    return known[version]


def _check(path: Path, entry: Entry, on: date, reason: str) -> None:
    problem, value = None, None
    if entry.status == "retracted":
        problem, value = f"the release is retracted already: {entry.reason}", entry.version
    elif not reason or len(reason) > _MOST:
        problem, value = f"a retraction has a reason, of at most {_MOST} characters", reason
    elif on < entry.released_on:
        problem, value = f"the release was made on {entry.released_on}, later", on.isoformat()
    if problem:
        raise ReleaseError(problem, file=path.name, column="retraction", value=value)
