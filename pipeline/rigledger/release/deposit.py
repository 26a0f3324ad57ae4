"""Packs a release into one zip file for an archive: the same release, the same bytes, anywhere."""

from __future__ import annotations

import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.files import beside, files_below, sha256_of
from rigledger.release.errors import ReleaseError
from rigledger.release.folder import SUMS
from rigledger.release.integrity import read_descriptor, sums_differences

if TYPE_CHECKING:
    from pathlib import Path

_FILE_MODE = 0o100644 << 16
_UNIX = 3
_CHUNK = 1 << 20


@dataclass(frozen=True, slots=True)
class Deposit:
    """A deposit that was written.

    Attributes:
        file: The zip file.
        sha256: Its hash.
        size: Its bytes.
        fingerprint: Fingerprint of the release in it.
    """

    file: Path
    sha256: str
    size: int
    fingerprint: str


def deposit(folder: Path, out: Path | None = None) -> Deposit:
    """Pack an unaltered release into a zip file.

    Order, times and permissions are fixed: files sorted by path, all of the release's own day, all
    readable by everybody. They are stored, not deflated: two builds of a compression library
    don't give the same bytes, and Parquet is packed already.

    Args:
        folder: The release, signed or not.
        out: File to write; None for ``<name>-<version>.zip`` beside the release.

    Returns:
        The file, its hash and size.

    Raises:
        RecheckError: It is no release.
        ReleaseError: A file of the release was altered, is missing, or is not listed.
    """
    differences = sums_differences(folder)
    if differences:
        raise ReleaseError(
            f"only an unaltered release is deposited: {differences[0].says}",
            file=differences[0].file, next_step="fetch the release again, or make the next one",
        )  # fmt: skip
    descriptor = read_descriptor(folder)
    name = f"{descriptor['name']}-{descriptor['version']}"
    target = out or folder.parent / f"{name}.zip"
    year, month, day = (int(part) for part in descriptor["created"][:10].split("-"))
    with beside(target) as temporary, zipfile.ZipFile(temporary, "w") as packed:
        for path in files_below(folder):
            _add(packed, folder / path, f"{name}/{path}", (year, month, day, 0, 0, 0))
    return Deposit(target, sha256_of(target), target.stat().st_size, sha256_of(folder / SUMS))


def _add(
    packed: zipfile.ZipFile, source: Path, name: str, when: tuple[int, int, int, int, int, int]
) -> None:
    entry = zipfile.ZipInfo(name, when)
    entry.create_system = _UNIX
    entry.external_attr = _FILE_MODE
    entry.file_size = source.stat().st_size
    with source.open("rb") as stream, packed.open(entry, "w") as into:
        while chunk := stream.read(_CHUNK):
            into.write(chunk)
