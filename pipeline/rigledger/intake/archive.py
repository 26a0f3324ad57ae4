"""Unpacks a zip archive from a stranger: every entry is judged before the first byte is written."""

from __future__ import annotations

import stat
import zipfile
from itertools import pairwise
from pathlib import PurePath
from typing import TYPE_CHECKING

from rigledger.archives import BROKEN
from rigledger.intake.limits import limit, megabytes, named
from rigledger.intake.names import clashes, is_junk, name_problem
from rigledger.intake.packed import is_packed_capture
from rigledger.intake.text import printable

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.intake.log import FindingLog

_CHUNK = 1 << 20
_UNREADABLE: tuple[type[Exception], ...] = (*BROKEN, ValueError)
_METHODS = {zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED}
_ARCHIVES = (".zip", ".7z", ".rar", ".tar", ".gz", ".tgz", ".bz2", ".xz", ".zst", ".cab", ".iso")


def unpack(archive: Path, into: Path, log: FindingLog) -> bool:
    """Unpack an archive into an empty folder, or not at all.

    Args:
        archive: The .zip file.
        into: An empty folder that takes the files.
        log: Takes a finding for every refusal.

    Returns:
        Whether the files were unpacked; on False the folder may hold a part and is not to be used.
    """
    before = log.errors
    try:
        with zipfile.ZipFile(archive) as opened:
            entries = [entry for entry in opened.infolist() if not is_junk(entry.orig_filename)]
            _judge(entries, archive.name, log)
            return log.errors == before and _write(opened, entries, into, log)
    except BROKEN as error:
        log.add(
            "archive_damaged", f"the archive can't be opened: {error}", file=printable(archive.name)
        )
    return False


def _place(archive: str, entry: str) -> str:
    """Name an entry and the archive that holds it, as sheets of a workbook are named."""
    return printable(f"{archive}: {entry}")


def _judge(entries: list[zipfile.ZipInfo], archive: str, log: FindingLog) -> None:
    _judge_whole(entries, archive, log)
    for name, earlier in clashes(entry.orig_filename for entry in entries):
        text = f"the name is the same as {printable(earlier)!r} on systems that ignore case"
        log.add("name_twice", text, file=_place(archive, name))
    for entry in entries:
        _judge_entry(entry, archive, log)


def _judge_whole(entries: list[zipfile.ZipInfo], archive: str, log: FindingLog) -> None:
    shown = printable(archive)
    if len(entries) > limit("zip.entries"):
        text = f"the archive has {len(entries)} entries, beyond {named('zip.entries')}"
        log.add("archive_too_large", text, file=shown)
    total = sum(entry.file_size for entry in entries)
    if total > megabytes("zip.total_mb"):
        text = f"the files unpack to {total} bytes, beyond {named('zip.total_mb')}"
        log.add("archive_too_large", text, file=shown)
    if _overlapping(entries):
        text = "entries of the archive share the same packed bytes"
        log.add("archive_too_large", text, file=shown)


def _overlapping(entries: list[zipfile.ZipInfo]) -> bool:
    spans = sorted((entry.header_offset, entry.compress_size) for entry in entries)
    return any(start + size > following for (start, size), (following, _) in pairwise(spans))


def _judge_entry(entry: zipfile.ZipInfo, archive: str, log: FindingLog) -> None:
    problem = name_problem(entry.orig_filename) or _kind_problem(entry) or _packing_problem(entry)
    if problem:
        log.add(problem[0], problem[1], file=_place(archive, entry.orig_filename))


def _kind_problem(entry: zipfile.ZipInfo) -> tuple[str, str] | None:
    mode = entry.external_attr >> 16
    if stat.S_ISLNK(mode):
        return "link_in_set", "the entry is a link"
    if stat.S_IFMT(mode) not in {0, stat.S_IFREG, stat.S_IFDIR}:
        return "special_file", "the entry is a device or another special file"
    name = entry.orig_filename
    if name.lower().endswith(_ARCHIVES) and not is_packed_capture(name):
        return (
            "archive_in_archive",
            f"archives inside archives are not opened: {named('zip.nesting')}",
        )
    return None


def _packing_problem(entry: zipfile.ZipInfo) -> tuple[str, str] | None:
    if entry.flag_bits & 0x1:
        return "archive_encrypted", "the entry is encrypted"
    if entry.compress_type not in _METHODS:
        return "archive_method", f"the entry is packed by method {entry.compress_type}"
    packed = max(entry.compress_size, 1)
    large = entry.file_size > megabytes("zip.ratio_from_mb")
    if large and entry.file_size > packed * limit("zip.ratio"):
        ratio = entry.file_size // packed
        return (
            "archive_ratio",
            f"the entry unpacks to {ratio} times its packed size, beyond {named('zip.ratio')}",
        )
    return None


def _write(
    opened: zipfile.ZipFile, entries: list[zipfile.ZipInfo], into: Path, log: FindingLog
) -> bool:
    left = megabytes("zip.total_mb")
    for entry in entries:
        if entry.is_dir():
            continue
        try:
            left -= _write_one(opened, entry, into, left)
        except _UNREADABLE as error:
            text = f"the entry can't be unpacked: {_reason(error)}"
            log.add("archive_damaged", text, file=_place(_name(opened), entry.orig_filename))
            return False
    return True


def _name(opened: zipfile.ZipFile) -> str:
    return PurePath(opened.filename or "").name


def _reason(error: Exception) -> str:
    """Say why in the user's words; the library's where there are no better ones."""
    if "CRC" in str(error):
        return "its bytes don't fit its checksum"
    return str(error) or "it ends too early"


def _write_one(opened: zipfile.ZipFile, entry: zipfile.ZipInfo, into: Path, left: int) -> int:
    """Write one entry, counting bytes as they come: the size stated in the archive is a claim."""
    target = into.joinpath(*entry.orig_filename.split("/"))
    target.parent.mkdir(parents=True, exist_ok=True)
    if not target.resolve().is_relative_to(into.resolve()):
        raise ValueError("the entry leads out of the folder")
    written = 0
    with opened.open(entry) as source, target.open("xb") as sink:
        while chunk := source.read(_CHUNK):
            written += len(chunk)
            if written > min(left, entry.file_size):
                raise ValueError("the entry unpacks to more than it states")
            sink.write(chunk)
    return written
