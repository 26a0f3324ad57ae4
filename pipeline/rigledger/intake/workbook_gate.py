"""Judges the archive inside a workbook before a parser sees it: size, parts, programs."""

from __future__ import annotations

import re
import zipfile
from typing import TYPE_CHECKING

from rigledger.archives import BROKEN
from rigledger.intake.limits import limit, megabytes, named

if TYPE_CHECKING:
    from pathlib import Path

_CHUNK = 1 << 20
# The last characters of a chunk are looked at again, in case an address is cut in two.
_OVERLAP = 64
_ADDRESS = re.compile(rb"""\br\s*=\s*["']([A-Za-z]{0,3})([0-9]{1,9})["']""")
_DECLARATION = re.compile(rb"<!\s*(DOCTYPE|ENTITY)", re.IGNORECASE)
_PROGRAMS = ("vbaproject.bin", ".exe", ".dll", "activex", "oleobject", "/macrosheets/")


def workbook_problem(path: Path) -> tuple[str, str] | None:
    """Say why a workbook may not be opened.

    Returns:
        Rule and reason; None where it may.
    """
    if path.stat().st_size == 0:
        return "empty_file", "the file has no bytes"
    try:
        with zipfile.ZipFile(path) as opened:
            return _problem(opened.infolist()) or _parts_problem(opened)
    except BROKEN as error:
        return (
            "table_damaged",
            f"the workbook can't be opened (damaged, or locked with a password): {error}",
        )


def _problem(parts: list[zipfile.ZipInfo]) -> tuple[str, str] | None:
    if len(parts) > limit("workbook.entries"):
        return (
            "archive_too_large",
            f"the workbook has {len(parts)} parts, beyond {named('workbook.entries')}",
        )
    total = sum(part.file_size for part in parts)
    if total > megabytes("workbook.unpacked_mb"):
        return (
            "archive_too_large",
            f"the workbook unpacks to {total} bytes, beyond {named('workbook.unpacked_mb')}",
        )
    for part in parts:
        if any(word in part.filename.lower() for word in _PROGRAMS):
            return (
                "program_in_set",
                f"the workbook holds a program or an embedded object: {part.filename!r}",
            )
        if part.flag_bits & 0x1:
            return "archive_encrypted", "the workbook is encrypted"
    return None


def _parts_problem(opened: zipfile.ZipFile) -> tuple[str, str] | None:
    """Look for what makes a parser take far more memory than the file has bytes.

    A sheet is read into a grid as large as its farthest cell, however few cells it has, and a
    document type may define entities that grow.
    """
    for part in opened.infolist():
        height, width, declared = _extent(opened, part)
        if declared:
            return "table_damaged", f"the part {part.filename!r} declares a document type or entity"
        if height > limit("workbook.rows"):
            reason = f"a sheet reaches down to row {height}, beyond {named('workbook.rows')}"
            return "table_too_large", reason
        if height * width > limit("workbook.cells"):
            reason = (
                f"a sheet spans {height} rows of {width} cells, beyond {named('workbook.cells')}"
            )
            return "table_too_large", reason
    return None


def _extent(opened: zipfile.ZipFile, part: zipfile.ZipInfo) -> tuple[int, int, bool]:
    height = width = 0
    kept = b""
    with opened.open(part) as stream:
        while chunk := stream.read(_CHUNK):
            text = kept + chunk.replace(b"\x00", b"")
            if _DECLARATION.search(text):
                return height, width, True
            for letters, digits in _ADDRESS.findall(text):
                height = max(height, int(digits))
                width = max(width, column_number(letters))
            kept = text[-_OVERLAP:]
    return height, width, False


def column_number(letters: bytes) -> int:
    """Give the number of a column by its letters: A is 1, AA is 27."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + letter - 64
    return number
