"""Finds the release before, by the fingerprint that the register gives for it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.files import sha256_of
from rigledger.release.differences import Previous, open_previous
from rigledger.release.errors import ReleaseError
from rigledger.release.folder import SUMS
from rigledger.release.integrity import sums_differences

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from rigledger.release.register import Entry


def find_previous(entries: tuple[Entry, ...], place: Path) -> Previous | None:
    """Find and check the last registered release.

    Args:
        entries: The register, oldest first.
        place: The release's folder, or a folder that holds it.

    Returns:
        The release; None where none is registered yet.

    Raises:
        ReleaseError: It is not there, or a file of it was altered since.
    """
    if not entries:
        return None
    wanted = entries[-1]
    for folder in _candidates(place):
        if sha256_of(folder / SUMS) == wanted.fingerprint:
            return _unaltered(folder, wanted)
    raise ReleaseError(
        f"the release before ({wanted.version}, fingerprint {wanted.fingerprint}) is not there, "
        "and a release whose difference can't be made is not made",
        file=str(place), next_step="name its folder with --previous",
    )  # fmt: skip


def _candidates(place: Path) -> Iterable[Path]:
    folders = [place, *sorted(place.iterdir())] if place.is_dir() else []
    return (folder for folder in folders if (folder / SUMS).is_file())


def _unaltered(folder: Path, wanted: Entry) -> Previous:
    differences = sums_differences(folder)
    if differences:
        raise ReleaseError(
            f"the release before ({wanted.version}) was altered: {differences[0].says}",
            file=differences[0].file, next_step="fetch an unaltered copy of it",
        )  # fmt: skip
    return open_previous(folder)
