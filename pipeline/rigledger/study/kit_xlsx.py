"""A kit as a workbook: the run sheet with drop-down lists, text cells and live warnings."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.files import beside
from rigledger.study.cautions import CAUTIONS
from rigledger.study.kit_guide import guide_lines
from rigledger.study.kit_model import words_of
from rigledger.study.kit_warnings import warnings_of
from rigledger.study.sheet_xlsx import CREATED

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.contract import Field
    from rigledger.study.kit_model import Kit, KitTable

# Rows below the filled ones that are formatted too, for runs that replace aborted ones.
SPARE_ROWS = 40
_MESSAGE_LIMIT = 255
_TITLE_LIMIT = 32


def write_kit_xlsx(path: Path, kit: Kit) -> None:
    """Write a kit as .xlsx, beside and renamed into place; the same kit gives the same bytes.

    Sheets: ``guide``, ``set``, one for each table, ``lists`` (read-only) and ``cautions``.

    Args:
        path: The workbook.
        kit: The kit.
    """
    import xlsxwriter

    with beside(path) as temporary:
        book = xlsxwriter.Workbook(str(temporary), {"strings_to_formulas": False})
        book.set_properties({"title": f"Kit for {kit.design.title}", "created": CREATED})
        _Writer(kit, book).write()
        book.close()


@dataclass(frozen=True)
class _Formats:
    """Cell formats; warnings are told by weight and border too, not by colour alone."""

    head: Any
    key: Any
    text: Any
    number: Any
    day: Any
    wrap: Any
    blank: Any
    doubt: Any


class _Writer:
    """Writes the sheets of one kit."""

    def __init__(self, kit: Kit, book: Any) -> None:  # noqa: ANN401 - untyped library
        self.kit = kit
        self.book = book
        add = book.add_format
        self.formats = _Formats(
            head=add({"bold": True, "bottom": 1, "num_format": "@"}),
            key=add({"num_format": "@", "font_color": "#555555"}),
            text=add({"num_format": "@"}),
            number=add({"num_format": "General"}),
            day=add({"num_format": "yyyy-mm-dd"}),
            wrap=add({"text_wrap": True, "valign": "top"}),
            blank=add({"bg_color": "#FFF2CC", "border": 1}),
            doubt=add({"bg_color": "#F8CBAD", "bold": True, "border": 1}),
        )
        self.lists: dict[str, str] = {}

    def write(self) -> None:
        self._page("guide", guide_lines(self.kit))
        pages = {name: self.book.add_worksheet(name) for name in self._names()}
        self._lists()
        self._page("cautions", CAUTIONS)
        self._set(pages["set"])
        for held in self.kit.tables:
            self._table(pages[held.name], held)
        pages["set"].activate()

    def _names(self) -> list[str]:
        return ["set", *(held.name for held in self.kit.tables)]

    def _page(self, name: str, lines: Any) -> None:  # noqa: ANN401 - any sequence of text
        page = self.book.add_worksheet(name)
        page.set_column(0, 0, 100)
        for place, line in enumerate(lines):
            page.write_string(place, 0, line, self.formats.wrap)
        page.protect()

    def _lists(self) -> None:
        """Write each column's words into the read-only sheet ``lists``, once for equal ones."""
        page = self.book.add_worksheet("lists")
        fields = [column for held in self.kit.tables for column in held.columns]
        fields += self.kit.contract.table("handed_in", "set").fields
        for column in fields:
            words = words_of(self.kit, column)
            if column.name in self.lists or not words:
                continue
            place = len(self.lists)
            page.write_string(0, place, column.name, self.formats.head)
            page.write_column(1, place, words, self.formats.text)
            letter = _letters(place)
            self.lists[column.name] = f"=lists!${letter}$2:${letter}${len(words) + 1}"
        page.protect()

    def _set(self, page: Any) -> None:  # noqa: ANN401 - untyped library
        """Write the sheet ``set``: a key, its value and its meaning in each row."""
        page.set_column(0, 0, 18)
        page.set_column(1, 1, 34)
        page.set_column(2, 2, 100)
        fields = self.kit.contract.table("handed_in", "set").fields
        for row, column in enumerate(fields):
            page.write_string(row, 0, column.name, self.formats.head)
            form = self._format(column)
            value = self.kit.set[column.name]
            if value is None:
                page.write_blank(row, 1, None, form)
            else:
                page.write_string(row, 1, value, form)
            page.write_string(row, 2, column.description, self.formats.wrap)
            self._validate(page, column, row, row, 1)
            if column.required:
                page.conditional_format(row, 1, row, 1, _blank_rule(self.formats))

    def _table(self, page: Any, held: KitTable) -> None:  # noqa: ANN401 - untyped library
        last = len(held.rows) + SPARE_ROWS
        for place, column in enumerate(held.columns):
            page.write_string(0, place, column.name, self.formats.head)
            page.write_comment(0, place, f"{column.title}. {column.description}")
            page.set_column(place, place, _width(held, column), self._format(column))
            self._validate(page, column, 1, last, place)
        for row, values in enumerate(held.rows, start=1):
            for place, column in enumerate(held.columns):
                self._cell(page, row, place, values[column.name])
        for warning in warnings_of(self.kit, held, last):
            form = self.formats.blank if warning.kind == "blank" else self.formats.doubt
            page.conditional_format(*warning.area, {**warning.rule, "format": form})
        page.ignore_errors({"number_stored_as_text": f"A1:XFD{last + 1}"})
        page.freeze_panes(1, min(3, len(held.columns)))
        page.repeat_rows(0)
        page.set_landscape()

    def _cell(self, page: Any, row: int, place: int, value: Any) -> None:  # noqa: ANN401
        if value is None:
            return
        if isinstance(value, str):
            page.write_string(row, place, value, self.formats.key)
        elif isinstance(value, dt.date):
            page.write_datetime(row, place, value, self.formats.day)
        else:
            page.write_number(row, place, value, self.formats.number)

    def _format(self, column: Field) -> Any:  # noqa: ANN401 - untyped library
        if column.type == "date":
            return self.formats.day
        if column.type in {"integer", "number"}:
            return self.formats.number
        return self.formats.text

    def _validate(self, page: Any, column: Field, first: int, last: int, place: int) -> None:  # noqa: ANN401
        rule = self._validation(column)
        if rule:
            rule |= {
                "input_title": column.title[:_TITLE_LIMIT],
                "input_message": column.description[:_MESSAGE_LIMIT],
                "error_title": "Not possible here",
            }
            page.data_validation(first, place, last, place, rule)

    def _validation(self, column: Field) -> dict[str, Any] | None:
        if column.name in self.lists:
            return {"validate": "list", "source": self.lists[column.name]}
        if column.type in {"integer", "number"} and column.minimum is not None:
            return {
                "validate": "integer" if column.type == "integer" else "decimal",
                "criteria": "between",
                "minimum": column.minimum,
                "maximum": column.maximum,
                "error_message": f"A number from {column.minimum} to {column.maximum}.",
            }
        return None


def _blank_rule(formats: _Formats) -> dict[str, Any]:
    return {"type": "blanks", "format": formats.blank}


def _width(held: KitTable, column: Field) -> int:
    texts = [str(row[column.name]) for row in held.rows if row[column.name] is not None]
    return min(32, max([len(column.name), *map(len, texts)]) + 2)


def _letters(place: int) -> str:
    from xlsxwriter.utility import xl_col_to_name

    return str(xl_col_to_name(place))
