"""The run sheet as a workbook: one row a run, to be sorted, filtered and ticked."""

from __future__ import annotations

import datetime as dt
from typing import TYPE_CHECKING, Any

from rigledger.files import beside
from rigledger.study.cautions import CAUTIONS
from rigledger.study.sheet_rows import (
    COLUMNS,
    column_titles,
    counts_text,
    day_text,
    sheet_rows,
)

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.model import Design
    from rigledger.study.sheet_model import Sheet

# A workbook holds a creation time; a fixed one keeps the bytes the same.
CREATED = dt.datetime(2000, 1, 1)  # noqa: DTZ001 - workbooks have no time zone
_NUMBERS = frozenset({"day", "boot", "round", "pass", "minutes"})
_WIDTHS = {"workload": 22, "title": 26, "rig": 16, "platform": 14, "card": 14, "reason": 30}


def write_sheet_xlsx(
    path: Path, sheet: Sheet, design: Design, *, day_starts: str = "09:00"
) -> None:
    """Write the sheet as .xlsx, beside and renamed into place; the same sheet gives the same bytes.

    Args:
        path: The workbook.
        sheet: The sheet.
        design: Its study's design.
        day_starts: Clock time at which measuring starts each day.
    """
    import xlsxwriter

    rows = sheet_rows(sheet, design, day_starts=day_starts)
    with beside(path) as temporary:
        book = xlsxwriter.Workbook(str(temporary), {"strings_to_formulas": False})
        book.set_properties({"title": f"Run sheet of {design.title}", "created": CREATED})
        _runs(book, rows)
        _summary(book, sheet, design, day_starts)
        book.close()


def _runs(book: Any, rows: list[dict[str, Any]]) -> None:  # noqa: ANN401 - untyped library
    page = book.add_worksheet("run sheet")
    bold = book.add_format({"bold": True, "bottom": 1})
    text = book.add_format({"num_format": "@"})
    titles = column_titles()
    for column, name in enumerate((*COLUMNS, "done")):
        page.write_string(0, column, titles.get(name, "Done"), bold)
        page.set_column(column, column, _WIDTHS.get(name, 11))
    for place, row in enumerate(rows, start=1):
        for column, name in enumerate(COLUMNS):
            if row[name] is None:
                continue
            if name in _NUMBERS:
                page.write_number(place, column, row[name])
            else:
                page.write_string(place, column, row[name], text)
    page.freeze_panes(1, 0)
    page.autofilter(0, 0, max(1, len(rows)), len(COLUMNS))
    page.set_landscape()
    page.repeat_rows(0)
    page.fit_to_pages(1, 0)


def _summary(
    book: Any,  # noqa: ANN401 - untyped library
    sheet: Sheet,
    design: Design,
    day_starts: str,
) -> None:
    page = book.add_worksheet("about")
    page.set_column(0, 0, 120)
    wrap = book.add_format({"text_wrap": True, "valign": "top"})
    lines = [
        design.title,
        design.question,
        counts_text(sheet),
        *(
            day_text(sheet, day, day_starts)
            for day in dict.fromkeys(part.day for part in sheet.days)
        ),
        f"Order drawn with seed {sheet.seed}; the same seed gives the same sheet.",
        "Before you open a case",
        *CAUTIONS,
    ]
    for place, line in enumerate(lines):
        page.write_string(place, 0, line, wrap)
