"""Opens a release that comes as a folder, a zip or a tar file."""

from __future__ import annotations

import tarfile
import zipfile
from pathlib import Path, PurePosixPath
from typing import TYPE_CHECKING

from rigledger.archives import BROKEN
from rigledger.release.errors import RecheckError
from rigledger.release.folder import SUMS

if TYPE_CHECKING:
    from collections.abc import Iterable

MOST_FILES = 200_000
MOST_BYTES = 16 * 1024**3
_CHUNK = 1 << 20


def open_release(path: Path, scratch: Path) -> Path:
    """Give the folder of a release.

    Args:
        path: The release's folder, or a .zip or .tar file (packed or not) that holds it.
        scratch: An empty folder for unpacking.

    Returns:
        The folder that holds SHA256SUMS.

    Raises:
        RecheckError: It is neither, an entry leads outside, is a link or a device, or there is no
            SHA256SUMS at the top or in the one folder there.
    """
    if path.is_dir():
        return _root(path)
    try:
        if zipfile.is_zipfile(path):
            _unpack_zip(path, scratch)
        elif tarfile.is_tarfile(path):
            _unpack_tar(path, scratch)
        else:
            raise RecheckError(
                "is neither a folder nor a zip or tar file", file=path.name,
                next_step="name the release's folder, .zip or .tar.gz",
            )  # fmt: skip
    except BROKEN as error:
        raise RecheckError(f"can't be unpacked: {error}", file=path.name) from error
    return _root(scratch)


def _root(folder: Path) -> Path:
    if (folder / SUMS).is_file():
        return folder
    inside = [item for item in sorted(folder.iterdir()) if item.is_dir()]
    if len(inside) == 1 and (inside[0] / SUMS).is_file():
        return inside[0]
    raise RecheckError(
        f"is no release: there is no {SUMS} at its top", file=folder.name,
        next_step="name the folder that holds SHA256SUMS and datapackage.json",
    )  # fmt: skip


def _unpack_zip(path: Path, scratch: Path) -> None:
    with zipfile.ZipFile(path) as opened:
        entries = opened.infolist()
        for entry in entries:
            kind = (entry.external_attr >> 16) & 0o170000
            if kind not in {0, 0o100000, 0o040000}:
                raise RecheckError("an entry is a link or a device", file=entry.filename)
        _refuse(((entry.filename, entry.file_size) for entry in entries), path)
        for entry in entries:
            opened.extract(entry, scratch)


def _unpack_tar(path: Path, scratch: Path) -> None:
    with tarfile.open(path) as opened:
        entries = opened.getmembers()
        for entry in entries:
            if not (entry.isreg() or entry.isdir()):
                raise RecheckError("an entry is a link or a device", file=entry.name)
        _refuse(((entry.name, entry.size) for entry in entries), path)
        opened.extractall(scratch, filter="data")


def _refuse(entries: Iterable[tuple[str, int]], path: Path) -> None:
    total = 0
    for number, (name, size) in enumerate(entries, start=1):
        parts = PurePosixPath(name.replace("\\", "/")).parts
        if ".." in parts or name.startswith(("/", "\\")) or ":" in name:
            raise RecheckError("an entry leads out of the archive", file=path.name, value=name)
        total += size
        if number > MOST_FILES or total > MOST_BYTES:
            raise RecheckError("the archive is larger than any release", file=path.name)
