"""Finds the cells of a sheet that show an error: the spreadsheet reader gives them as blank."""

from __future__ import annotations

import posixpath
import re
import xml.etree.ElementTree as ET
import zipfile
from typing import TYPE_CHECKING

from rigledger.intake.workbook_gate import column_number

if TYPE_CHECKING:
    from pathlib import Path

_ERROR_CELL = re.compile(rb"""<(?:\w+:)?c\b([^>]*\bt\s*=\s*["']e["'][^>]*)>""")
_ADDRESS = re.compile(rb"""\br\s*=\s*["']([A-Za-z]{1,3})([0-9]{1,9})["']""")
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


def error_cells(path: Path, sheet: str) -> list[tuple[int, int]]:
    """Give row and column, from 0, of every cell of a sheet that shows an error.

    Args:
        path: A workbook that the gate let through: it declares no document type.
        sheet: Name of the sheet.
    """
    with zipfile.ZipFile(path) as opened:
        part = _part_of(opened, sheet)
        if part is None or part not in opened.namelist():
            return []
        data = opened.read(part)
    found = (_ADDRESS.search(attributes) for attributes in _ERROR_CELL.findall(data))
    return [(int(at[2]) - 1, column_number(at[1]) - 1) for at in found if at]


def _part_of(opened: zipfile.ZipFile, sheet: str) -> str | None:
    try:
        book = ET.fromstring(opened.read("xl/workbook.xml"))  # noqa: S314 - no document type in it
        links = ET.fromstring(opened.read("xl/_rels/workbook.xml.rels"))  # noqa: S314 - as above
    except (KeyError, ET.ParseError):
        return None
    targets = {link.get("Id"): link.get("Target", "") for link in links}
    for item in book.iter():
        if item.tag.endswith("}sheet") and item.get("name") == sheet:
            target = targets.get(item.get(_RELATION), "")
            return posixpath.normpath(posixpath.join("xl", target)).lstrip("/")
    return None
