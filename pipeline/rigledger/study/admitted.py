"""An admitted set on disk: its checksums, and whether it is still what was admitted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.errors import StudyError
from rigledger.files import parse_sha256sums, sha256_of, sha256sums

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.decisions import Decision
    from rigledger.study.layout import StudyFolder

SUMS = "SHA256SUMS"


def folder_sums(folder: Path) -> str:
    """Give the checksums of a set's files as they are now, without the checksum file itself."""
    return sha256sums(folder, frozenset({SUMS}))


def check_unaltered(study: StudyFolder, decision: Decision) -> None:
    """Hold an admitted set's folder against the hash in its decision.

    Raises:
        StudyError: The folder is missing, or a file in it was changed, added or taken out.
    """
    folder = study.set_folder(decision.set_id)
    place = f"sets/{decision.set_id}"
    if not (folder / SUMS).is_file():
        raise StudyError(
            f"the admitted set {decision.set_id} is missing",
            file=place,
            next_step="put the folder back as it was admitted, or withdraw the set",
        )
    changed = altered_files(folder)
    if changed or sha256_of(folder / SUMS) != decision.sha256:
        raise StudyError(
            f"the admitted set {decision.set_id} was altered: {', '.join(changed) or SUMS}",
            file=place,
            next_step="put the files back as admitted; what is to change goes to corrections.toml",
        )


def altered_files(folder: Path) -> list[str]:
    """Name the files of a set that were changed, added or taken out since its checksums."""
    said = parse_sha256sums((folder / SUMS).read_text(encoding="utf-8"))
    held = parse_sha256sums(folder_sums(folder))
    return sorted(name for name in said.keys() | held.keys() if said.get(name) != held.get(name))
