"""Judges the archive inside a workbook before a parser sees it: size, parts, programs."""

from __future__ import annotations

import struct
import zipfile
from typing import TYPE_CHECKING

from rigledger.intake.limits import limit, megabytes, named

if TYPE_CHECKING:
    from pathlib import Path

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
            return _problem(opened.infolist())
    except (zipfile.BadZipFile, struct.error, OSError, EOFError, NotImplementedError) as error:
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
