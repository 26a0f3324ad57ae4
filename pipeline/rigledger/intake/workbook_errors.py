"""What the spreadsheet reader leaves out of a sheet: error cells, empty formulas, hidden rows."""

from __future__ import annotations

import posixpath
import re
import xml.etree.ElementTree as ET
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.intake.workbook_gate import column_number

if TYPE_CHECKING:
    from pathlib import Path

_EMPTY_FORMULA = re.compile(
    rb"""<(?:\w+:)?c\b([^<>]*)>\s*<(?:\w+:)?f\b(?:[^<>]*/>|[^<>]*>[^<]*</(?:\w+:)?f>)\s*"""
    rb"""(?:<(?:\w+:)?v\s*/>|<(?:\w+:)?v>\s*</(?:\w+:)?v>)?\s*</(?:\w+:)?c>"""
)
_HIDDEN_ROW = re.compile(rb"""<(?:\w+:)?row\b([^<>]*\bhidden\s*=\s*["'](?:1|true)["'][^<>]*)>""")
_ROW_NUMBER = re.compile(rb"""\br\s*=\s*["']([0-9]{1,9})["']""")
_ERROR_CELL = re.compile(rb"""<(?:\w+:)?c\b([^<>]*\bt\s*=\s*["']e["'][^<>]*)>""")
_ADDRESS = re.compile(rb"""\br\s*=\s*["']([A-Za-z]{1,3})([0-9]{1,9})["']""")
_RELATION = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"


@dataclass(frozen=True, slots=True)
class SheetMarks:
    """What a sheet holds beside its values; rows and columns from 0.

    Attributes:
        errors: Cells that show an error.
        empty_formulas: Cells with a formula and no stored value.
        hidden_rows: Rows that are hidden or filtered out.
    """

    errors: list[tuple[int, int]]
    empty_formulas: list[tuple[int, int]]
    hidden_rows: list[int]


def sheet_marks(path: Path, sheet: str) -> SheetMarks:
    """Look for marks in the sheet's own part of the workbook.

    Args:
        path: A workbook that the gate let through: it declares no document type.
        sheet: Name of the sheet.
    """
    with zipfile.ZipFile(path) as opened:
        part = _part_of(opened, sheet)
        data = b"" if part is None or part not in opened.namelist() else opened.read(part)
    rows = (_ROW_NUMBER.search(attributes) for attributes in _HIDDEN_ROW.findall(data))
    return SheetMarks(
        _addresses(_ERROR_CELL.findall(data)),
        _addresses(_EMPTY_FORMULA.findall(data)) if b"<f" in data or b":f" in data else [],
        [int(row[1]) - 1 for row in rows if row],
    )


def _addresses(cells: list[bytes]) -> list[tuple[int, int]]:
    found = (_ADDRESS.search(attributes) for attributes in cells)
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
