"""Hashing, and writing beside and renaming into place: nothing is ever half-written.

What is written lies under a name of its own until it is whole and on the disk; then one rename
makes it what it is to be. A process that dies in between leaves a file or folder whose name
`LEFT_OVER` matches, which nothing reads and `sweep` removes.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import shutil
import uuid
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager, suppress
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping

_CHUNK = 1 << 20
SYNCED_AT_ONCE = 4
# How a file system that has no symbolic links answers.
_NO_LINKS = {errno.EPERM, errno.EOPNOTSUPP, errno.ENOTSUP, errno.ENOSYS}
LEFT_OVER = re.compile(r"\.(?:(?P<name>.+)\.)?[0-9a-f]{32}\.part(?:\.wal)?")
"""Names of what is being written; ``name`` is what it was to become."""


def sha256_of(path: Path) -> str:
    """Hash a file's bytes with SHA-256, in hexadecimal."""
    digest = hashlib.sha256()
    with path.open("rb") as stream:
        while chunk := stream.read(_CHUNK):
            digest.update(chunk)
    return digest.hexdigest()


def files_below(folder: Path) -> list[str]:
    """List the files below a folder as sorted POSIX paths relative to it.

    A link to a file is one, a link to a folder is not followed.
    """
    return sorted(_files_of(str(folder), ""))


def _files_of(folder: str, before: str) -> Iterator[str]:
    try:
        entries = list(os.scandir(folder))
    except (FileNotFoundError, NotADirectoryError):
        return
    for entry in entries:
        if entry.is_dir(follow_symlinks=False):
            yield from _files_of(entry.path, f"{before}{entry.name}/")
        elif _is_file(entry):
            yield before + entry.name


def _is_file(entry: os.DirEntry[str]) -> bool:
    try:
        return entry.is_file()
    except OSError:  # a link that leads to itself, for one
        return False


def hashes_below(folder: Path) -> dict[str, str]:
    """Hash every file below a folder: path relative to it -> hash."""
    return {name: sha256_of(folder / name) for name in files_below(folder)}


def sha256sums(
    folder: Path,
    leave_out: frozenset[str] = frozenset(),
    known: Mapping[str, str] = MappingProxyType({}),
) -> str:
    """Give the text of a SHA256SUMS file: one line ``<hash>  <path>`` a file, sorted by path.

    Files of which the hash is ``known`` are not hashed again.
    """
    names = [name for name in files_below(folder) if name not in leave_out]
    return "".join(f"{known.get(name) or sha256_of(folder / name)}  {name}\n" for name in names)


def parse_sha256sums(text: str) -> dict[str, str]:
    """Read a SHA256SUMS text into path -> hash."""
    pairs = (line.split("  ", 1) for line in text.splitlines() if line.strip())
    return {name: digest for digest, name in pairs}


def sync_file(path: Path) -> None:
    """Ask the system to put a file's bytes on the disk."""
    _sync_handle(os.open(path, os.O_RDWR))


def sync_folder(folder: Path) -> None:
    """Ask the system to put a folder's entries on the disk.

    Windows lets no folder be opened for that; there the file system's own journal has to do.
    """
    if os.name == "nt":
        return
    _sync_handle(os.open(folder, os.O_RDONLY))


def _sync_handle(handle: int) -> None:
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_tree(folder: Path) -> None:
    """Ask the system to put everything in a folder on the disk, its subfolders too.

    Several files at once: a disk takes as long for some as for one.
    """
    below: dict[Path, Callable[[Path], None]] = {}
    for place, folders, files in os.walk(folder):
        below |= {Path(place, name): sync_folder for name in folders}
        below |= {Path(place, name): sync_file for name in files}
    with ThreadPoolExecutor(SYNCED_AT_ONCE) as pool:
        for _ in pool.map(lambda path: below[path](path), sorted(below, key=str)):
            pass  # an error of any of them is raised here
    sync_folder(folder)


def make_folder(path: Path) -> None:
    """Make a folder, and those above it that are missing; each is on the disk afterwards."""
    if path.is_dir():
        return
    make_folder(path.parent)
    path.mkdir(exist_ok=True)
    sync_folder(path.parent)


def place_beside(path: Path) -> Path:
    """Give a name in the same folder, which nothing has yet and `sweep` knows."""
    return path.with_name(f".{path.name}.{uuid.uuid4().hex}.part")


def sweep(folder: Path, name: str | None = None) -> None:
    """Remove what writers left in a folder that were stopped before they could tidy up.

    To be called by the only writer there, as the holder of a study's lock is in its folders.

    Args:
        folder: The folder; it may be missing.
        name: Remove only what was to become a file or folder of this name.
    """
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        left = LEFT_OVER.fullmatch(path.name)
        if left and name in {None, left["name"]}:
            remove(path)


def remove(path: Path) -> None:
    """Remove a file, a link or a folder with all that is in it; it may be gone already."""
    if path.is_dir() and not path.is_symlink():
        shutil.rmtree(path)
    else:
        path.unlink(missing_ok=True)


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
    make_folder(path.parent)
    with _removed_on_failure(place_beside(path)) as temporary:
        yield temporary
        sync_file(temporary)
        temporary.replace(path)
    sync_folder(path.parent)


@contextmanager
def folder_beside(path: Path, *, or_same: bool = False) -> Iterator[Path]:
    """Give an empty temporary folder beside ``path``; on success it is renamed to ``path``.

    Args:
        path: The folder to be made.
        or_same: Whether ``path`` may exist if it holds the same files in the end; it stays then.

    Raises:
        FileExistsError: ``path`` exists already; nothing is replaced.
    """
    if path.exists() and not or_same:
        raise FileExistsError(path)
    make_folder(path.parent)
    with _removed_on_failure(place_beside(path)) as temporary:
        temporary.mkdir()
        yield temporary
        if path.exists():
            if hashes_below(path) != hashes_below(temporary):
                raise FileExistsError(path)
            remove(temporary)
            return
        sync_tree(temporary)
        temporary.rename(path)
    sync_folder(path.parent)


def keep_all(sources: Mapping[str, Path], folder: Path) -> None:
    """Put files of ours into a folder: all beside first, then each is renamed into place.

    They get there in no order: for files of which none says anything of another. A disk takes as
    long to sync some files as one, so several are synced at once, and the folder is synced once.

    Args:
        sources: Name in the folder to the file, to which nobody writes any more: where the system
            can, it gets a second name and is not copied. One that is there already is replaced.
        folder: The folder.
    """
    if not sources:
        return
    make_folder(folder)
    parts = {name: place_beside(folder / name) for name in sorted(sources)}
    with _removed_on_failure(*parts.values()):
        with ThreadPoolExecutor(SYNCED_AT_ONCE) as pool:
            for _ in pool.map(_place_synced, map(sources.__getitem__, parts), parts.values()):
                pass
        for name, part in parts.items():
            part.replace(folder / name)
    sync_folder(folder)


def _place_synced(source: Path, target: Path) -> None:
    if source.is_symlink():
        shutil.copyfile(source, target, follow_symlinks=False)
    else:
        link_or_copy(source, target)
    sync_file(target)


def link_or_copy(source: Path, target: Path) -> None:
    """Give a file a second name, which takes no room; copy it where the file system has none."""
    try:
        os.link(source, target)
    except OSError:
        shutil.copyfile(source, target)


def place_below(
    sources: Mapping[str, Path], folder: Path, place: Callable[[Path, Path], object]
) -> None:
    """Place files at paths below a folder, and make the folders that they need.

    Args:
        sources: Path in the folder to the file.
        folder: The folder.
        place: Places one: `link_or_copy`, or `shutil.copyfile`.
    """
    for needed in {(folder / name).parent for name in sources}:
        needed.mkdir(parents=True, exist_ok=True)
    for name, source in sources.items():
        place(source, folder / name)


@contextmanager
def _removed_on_failure(temporary: Path, *others: Path) -> Iterator[Path]:
    try:
        yield temporary
    except BaseException:
        for path in (temporary, *others):
            with suppress(OSError):  # the first error says what is wrong; `sweep` finds the rest
                remove(path)
        raise


def point_to(pointer: Path, name: str) -> None:
    """Make a pointer name a file or folder beside it, in one step: the old one or the new one.

    Where the system has symbolic links it is one, so that people and programs find the same place
    under the same path; elsewhere it is a text file that holds the name. `pointed` reads both.

    Args:
        pointer: The pointer; an earlier one is replaced.
        name: Name of what it points to, in the same folder.
    """
    with _removed_on_failure(place_beside(pointer)) as temporary:
        if not _linked(temporary, name):
            temporary.write_bytes(name.encode("utf-8"))
            sync_file(temporary)
        temporary.replace(pointer)
    sync_folder(pointer.parent)


def _linked(link: Path, name: str) -> bool:
    # Windows has links too, but refuses to replace one to a folder in one step.
    if os.name == "nt":
        return False
    try:
        link.symlink_to(name, target_is_directory=True)
    except OSError as error:
        if error.errno not in _NO_LINKS:
            raise
        return False
    return True


def pointed(pointer: Path) -> Path | None:
    """Give what a pointer names; None where there is no pointer or nothing it points to."""
    try:
        is_link = pointer.is_symlink()
        name = str(pointer.readlink()) if is_link else pointer.read_text(encoding="utf-8")
    except FileNotFoundError:
        return None
    found = pointer.with_name(name.strip())
    return found if found.exists() else None
