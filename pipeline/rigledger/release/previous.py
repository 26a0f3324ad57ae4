"""Finds the release before, by the fingerprint that the register gives for it.

It may lie as a folder or packed; a packed one is unpacked into a scratch folder.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.files import sha256_of
from rigledger.release.archive import open_release
from rigledger.release.differences import Previous, open_previous
from rigledger.release.errors import RecheckError, ReleaseError
from rigledger.release.folder import SUMS
from rigledger.release.integrity import sums_differences

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from rigledger.release.register import Entry


_PACKED = (".zip", ".tar", ".tar.gz", ".tgz", ".tar.xz")


def find_previous(entries: tuple[Entry, ...], place: Path, scratch: Path) -> Previous | None:
    """Find and check the last registered release.

    Args:
        entries: The register, oldest first.
        place: The release's folder or packed file, or a folder that holds it.
        scratch: An empty folder for unpacking; it has to outlive what is returned.

    Returns:
        The release; None where none is registered yet.

    Raises:
        ReleaseError: It is not there, or a file of it was altered since.
    """
    if not entries:
        return None
    wanted = entries[-1]
    for folder in (*_folders(place), *_unpacked(place, scratch)):
        if sha256_of(folder / SUMS) == wanted.fingerprint:
            return _unaltered(folder, wanted)
    raise ReleaseError(
        f"the release before ({wanted.version}, fingerprint {wanted.fingerprint}) is not there, "
        "and a release whose difference can't be made is not made",
        file=place.name, next_step="name its folder, or its .zip, with --previous",
    )  # fmt: skip


def _unpacked(place: Path, scratch: Path) -> Iterable[Path]:
    """Unpack one archive after the other; what is no release is passed over."""
    files = [place] if place.is_file() else sorted(place.iterdir()) if place.is_dir() else []
    for number, file in enumerate(file for file in files if _is_packed(file.name)):
        inside = scratch / str(number)
        inside.mkdir()
        try:
            yield open_release(file, inside)
        except RecheckError:
            continue


def _is_packed(name: str) -> bool:
    return name.endswith(_PACKED) and not name.startswith(".")


def _folders(place: Path) -> Iterable[Path]:
    folders = [place, *sorted(place.iterdir())] if place.is_dir() else []
    # A hidden one is a release that was being written when its writer was stopped.
    return (
        folder
        for folder in folders
        if not folder.name.startswith(".") and (folder / SUMS).is_file()
    )


def _unaltered(folder: Path, wanted: Entry) -> Previous:
    differences = sums_differences(folder)
    if differences:
        raise ReleaseError(
            f"the release before ({wanted.version}) was altered: {differences[0].says}",
            file=differences[0].file, next_step="fetch an unaltered copy of it",
        )  # fmt: skip
    return open_previous(folder)
