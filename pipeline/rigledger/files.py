"""Hashing, and writing beside and renaming into place: nothing is ever half-written."""

from __future__ import annotations

import hashlib
import os
import shutil
import uuid
from contextlib import contextmanager
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

_CHUNK = 1 << 20


def sha256_of(path: Path) -> str:
    """Hash a file's bytes with SHA-256, in hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()


def files_below(folder: Path) -> list[str]:
    """List the files below a folder as sorted POSIX paths relative to it."""
    return sorted(
        path.relative_to(folder).as_posix() for path in folder.rglob("*") if path.is_file()
    )


def sha256sums(folder: Path, leave_out: frozenset[str] = frozenset()) -> str:
    """Give the text of a SHA256SUMS file: one line ``<hash>  <path>`` a file, sorted by path."""
    names = [name for name in files_below(folder) if name not in leave_out]
    return "".join(f"{sha256_of(folder / name)}  {name}\n" for name in names)


def parse_sha256sums(text: str) -> dict[str, str]:
    """Read a SHA256SUMS text into path -> hash."""
    pairs = (line.split("  ", 1) for line in text.splitlines() if line.strip())
    return {name: digest for digest, name in pairs}


def sync_file(path: Path) -> None:
    """Ask the system to put a file's bytes on the disk."""
    with path.open("rb+") as stream:
        os.fsync(stream.fileno())


def sync_folder(folder: Path) -> None:
    """Ask the system to put a folder's entries on the disk, where it lets folders be opened."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def write_text(path: Path, text: str) -> None:
    """Write UTF-8 text with newlines as they are: beside, then renamed into place."""
    write_bytes(path, text.encode("utf-8"))


def write_bytes(path: Path, data: bytes) -> None:
    """Write bytes beside and rename into place."""
    with beside(path) as temporary:
        temporary.write_bytes(data)


@contextmanager
def beside(path: Path) -> Iterator[Path]:
    """Give a temporary path in the same folder; on success it is synced and replaces ``path``.

    Yields:
        A path that doesn't exist yet, for a file to be written.
    """
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.{uuid.uuid4().hex}.part")
    try:
        yield temporary
        sync_file(temporary)
        temporary.replace(path)
        sync_folder(path.parent)
    finally:
        temporary.unlink(missing_ok=True)


@contextmanager
def folder_beside(path: Path) -> Iterator[Path]:
    """Give an empty temporary folder beside ``path``; on success it is renamed to ``path``.

    Raises:
        FileExistsError: ``path`` exists already; nothing is replaced.
    """
    if path.exists():
        raise FileExistsError(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    temporary = path.with_name(f".{path.name}.{uuid.uuid4().hex}.part")
    temporary.mkdir()
    try:
        yield temporary
        for name in files_below(temporary):
            sync_file(temporary / name)
        temporary.rename(path)
        sync_folder(path.parent)
    finally:
        if temporary.exists():
            shutil.rmtree(temporary)
