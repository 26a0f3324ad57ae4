"""An admitted set on disk: its checksums, and whether it is still what was admitted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.errors import StudyError
from rigledger.files import parse_sha256sums, sha256_of, sha256sums
from rigledger.signing import SIGNATURE, SIGNER, SUMS, UNSIGNED, SigningError, signer_of

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.decisions import Decision
    from rigledger.study.layout import StudyFolder


def folder_sums(folder: Path) -> str:
    """Give the checksums of a set's files as they are now, without those and their signature."""
    return sha256sums(folder, UNSIGNED)


def check_unaltered(study: StudyFolder, decision: Decision) -> dict[str, str]:
    """Hold an admitted set's folder against the hash in its decision.

    Returns:
        Path in the folder to SHA-256 of each file as admitted.

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
    said = parse_sha256sums((folder / SUMS).read_text(encoding="utf-8"))
    changed = _altered(folder, said)
    if changed or sha256_of(folder / SUMS) != decision.sha256:
        raise StudyError(
            f"the admitted set {decision.set_id} was altered: {', '.join(changed) or SUMS}",
            file=place,
            next_step="put the files back as admitted; what is to change goes to corrections.toml",
        )
    if decision.signed_with is not None:
        _check_signer(folder, decision.signed_with, place)
    return said


def _check_signer(folder: Path, signed_with: str, place: str) -> None:
    """Hold an admitted set's signature against the key in its decision."""
    try:
        found = signer_of(folder).fingerprint
        because = f"it is signed with {found}" if found != signed_with else None
    except (SigningError, OSError) as error:
        because = error.message if isinstance(error, SigningError) else str(error)
    if because:
        raise StudyError(
            f"the signature of an admitted set was altered: {because}",
            file=place,
            value=signed_with,
            next_step=f"put {SIGNATURE} and {SIGNER} back as they were admitted",
        )


def altered_files(folder: Path) -> list[str]:
    """Name the files of a set that were changed, added or taken out since its checksums."""
    return _altered(folder, parse_sha256sums((folder / SUMS).read_text(encoding="utf-8")))


def _altered(folder: Path, said: dict[str, str]) -> list[str]:
    held = parse_sha256sums(folder_sums(folder))
    return sorted(name for name in said.keys() | held.keys() if said.get(name) != held.get(name))
