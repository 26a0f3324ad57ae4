"""Reads a workbook: text cells as text, numbers by their shortest text, versions not guessed."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import python_calamine

from rigledger.counting import counted
from rigledger.intake.headers import known_names, match_header
from rigledger.intake.limits import limit, named
from rigledger.intake.manifest import Manifest
from rigledger.intake.text import excerpt
from rigledger.intake.texttable import TextTable, spool
from rigledger.intake.versions import is_version
from rigledger.intake.workbook_errors import sheet_marks
from rigledger.intake.workbook_gate import workbook_problem

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Field, Table
    from rigledger.intake.log import FindingLog

_HEADER_WITHIN = 12
_ERROR = "an error"
_NO_VALUE = "a formula without a value"
_ERRORS = (
    _ERROR, "#N/A", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!", "#GETTING_DATA",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Workbook:
    """An opened workbook: its file name and its sheets by lower-case name."""

    path: Path
    opened: Any
    sheets: dict[str, str]

    @property
    def file(self) -> str:
        """The file as findings show it."""
        return self.path.name


def open_workbook(path: Path, log: FindingLog) -> Workbook | None:
    """Open a workbook after its archive was judged.

    Returns:
        The workbook; None where it is damaged, encrypted or beyond a limit.
    """
    problem = workbook_problem(path)
    if problem:
        log.add(problem[0], problem[1], file=path.name)
        return None
    try:
        opened = python_calamine.CalamineWorkbook.from_path(str(path))
    except (python_calamine.CalamineError, OSError) as error:
        log.add("table_damaged", f"the workbook can't be opened: {error}", file=path.name)
        return None
    return Workbook(path, opened, {name.strip().lower(): name for name in opened.sheet_names})


def _cells(book: Workbook, sheet: str, log: FindingLog) -> list[list[Any]] | None:
    place = f"{book.file}: {sheet}"
    try:
        held = book.opened.get_sheet_by_name(book.sheets[sheet])
        height, width = held.total_height, held.total_width
        if height > limit("workbook.rows") or height * width > limit("workbook.cells"):
            key = "workbook.rows" if height > limit("workbook.rows") else "workbook.cells"
            reason = f"the sheet has {height} rows of {width} cells, beyond {named(key)}"
            log.add("table_too_large", reason, file=place)
            return None
        cells: list[list[Any]] = held.to_python(skip_empty_area=False)
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        log.add("table_damaged", f"the sheet can't be read: {error}", file=place)
        return None
    marks = sheet_marks(book.path, book.sheets[sheet])
    for places, mark in ((marks.errors, _ERROR), (marks.empty_formulas, _NO_VALUE)):
        for row, column in places:
            if row < len(cells) and column < len(cells[row]):
                cells[row][column] = cells[row][column] or mark
    _say_hidden(cells, marks.hidden_rows, place, log)
    return cells


def _say_hidden(cells: list[list[Any]], hidden: list[int], place: str, log: FindingLog) -> None:
    filled = [row for row in hidden if row < len(cells) and any(cells[row])]
    if filled:
        many = f"{counted(len(filled), 'row')} of the sheet {'is' if len(filled) == 1 else 'are'}"
        reason = f"{many} hidden and read like the others"
        log.add("hidden_rows", reason, file=place, row=filled[0] + 1)


def read_set_sheet(book: Workbook, table: Table, log: FindingLog) -> Manifest | None:
    """Read the sheet ``set``: keys and values in two columns, or a header and one row.

    Returns:
        A manifest that holds the set's columns; None where the sheet is missing or can't be read.
    """
    place = f"{book.file}: set"
    if "set" not in book.sheets:
        reason = "the workbook has no sheet `set`, which says whose it is and for which study"
        log.add("manifest_missing", reason, file=book.file)
        return None
    cells = _cells(book, "set", log)
    if cells is None:
        return None
    pairs = _pairs(cells, table)
    held = {}
    for row, name, value in pairs:
        text = _cell_text(value, table.field(name), _Place(place, log), row)
        if text:
            held[name] = text
    return Manifest(file=place, set=held, lines={f"set.{name}": row for row, name, _ in pairs})


def _pairs(cells: list[list[Any]], table: Table) -> list[tuple[int, str, Any]]:
    rows = [[str(cell).strip() for cell in row] for row in cells]
    for number, row in enumerate(rows):
        if known_names(row, table) > 2 and number + 1 < len(rows):
            values = cells[number + 1]
            return [
                (number + 2, name, values[n])
                for n, name in enumerate(row)
                if name in table.field_names
            ]
    return [
        (number, row[0], cells[number - 1][1])
        for number, row in enumerate(rows, start=1)
        if len(row) > 1 and row[0] in table.field_names
    ]


def read_sheet(
    con: duckdb.DuckDBPyConnection, book: Workbook, table: Table, log: FindingLog, scratch: Path
) -> TextTable | None:
    """Read one sheet into ``intake.raw_<table>``; a workbook of one sheet may name it as it likes.

    Returns:
        The table as text; None where there is no such sheet or it can't be read.
    """
    sheet = table.name if table.name in book.sheets else None
    if sheet is None and len(book.sheets) == 1:
        sheet = next(iter(book.sheets))
    if sheet is None:
        if not table.optional:
            log.add("table_missing", f"the workbook has no sheet {table.name!r}", file=book.file)
        return None
    cells = _cells(book, sheet, log)
    header = None if cells is None else _header_row(cells, table)
    place = f"{book.file}: {sheet}"
    if cells is None or header is None:
        if cells is not None and not table.optional:
            log.add("header_missing", f"no row names columns of {table.name}", file=place, row=1)
        return None
    sheet_place = _Place(place, log)
    return _spooled(con, cells[header:], header + 1, table, sheet_place, scratch=scratch)


def _header_row(cells: list[list[Any]], table: Table) -> int | None:
    best = max(
        range(min(_HEADER_WITHIN, len(cells))),
        key=lambda n: known_names([str(cell) for cell in cells[n]], table),
        default=None,
    )
    if best is None or known_names([str(cell) for cell in cells[best]], table) == 0:
        return None
    return best


@dataclass(frozen=True, slots=True)
class _Place:
    """A sheet as findings name it, and where they go."""

    file: str
    log: FindingLog

    def add(
        self, rule: str, reason: str, row: int, *, column: str | None = None, value: str | None
    ) -> None:
        self.log.add(rule, reason, file=self.file, row=row, column=column, value=excerpt(value))


def _spooled(
    con: duckdb.DuckDBPyConnection,
    cells: list[list[Any]],
    first: int,
    table: Table,
    place: _Place,
    *,
    scratch: Path,
) -> TextTable:
    """Spool the rows behind the header, ``cells[0]`` in physical row ``first``."""
    names = [str(cell) for cell in cells[0]]
    matched = match_header(names, table, place.log, file=place.file, row=first)
    places = matched.places
    _refuse_unnamed(cells, first, names, place)
    fields = [(table.field(name), at) for name, at in places.items()]
    rows = _text_rows(cells, first, fields, place)
    count = spool(con, scratch / f"rows-{table.name}.csv", table.name, tuple(places), rows)
    if count == 0 and not table.optional:
        place.add("no_rows", "the sheet has a header and no rows", first, value=None)
    relation = f"intake.raw_{table.name}"
    return TextTable(table.name, place.file, relation, tuple(places), count, meant=matched.meant)


def _refuse_unnamed(cells: list[list[Any]], first: int, names: list[str], place: _Place) -> None:
    """A merged header names its first column only; what stands under the others has no name."""
    for column in (number for number, name in enumerate(names) if not name.strip()):
        for row, line in enumerate(cells[1:], start=first + 1):
            if column < len(line) and line[column] not in {"", None}:
                reason = f"column {column + 1} has no name: cells of the header may be merged"
                place.add("column_without_name", reason, row, value=str(line[column]))
                break


def _text_rows(
    cells: list[list[Any]], first: int, fields: list[tuple[Field, int]], place: _Place
) -> Iterator[list[str | int | None]]:
    for row, line in enumerate(cells[1:], start=first + 1):
        texts = [
            _cell_text(line[at], field, place, row) if at < len(line) else None
            for field, at in fields
        ]
        if any(texts):
            yield [row, *texts]


def _cell_text(value: Any, field: Field, place: _Place, row: int) -> str | None:  # noqa: ANN401
    if value is None or value == "":
        return None
    if not isinstance(value, str):
        text = _number_text(value, field)
        _judge_kind(value, text, field, place, row)
        return text
    if value == _NO_VALUE:
        reason = "the cell holds a formula, and no value is stored with it"
        place.add("formula_without_value", reason, row, column=field.name, value=None)
        return None
    if value in _ERRORS:
        reason = "the cell shows an error of the spreadsheet instead of a value"
        place.add("spreadsheet_error", reason, row, column=field.name, value=value)
        return None
    return value


def _judge_kind(value: Any, text: str, field: Field, place: _Place, row: int) -> None:  # noqa: ANN401
    dated = isinstance(value, dt.date | dt.time | dt.timedelta)
    if is_version(field):
        kind = "date" if dated else "number"
        reason = f"the cell is a {kind}, not text: the spreadsheet may have changed what was typed"
        place.add("number_in_version_column", reason, row, column=field.name, value=text)
    elif dated and field.type in {"number", "integer"}:
        reason = "the spreadsheet has turned a number into a date"
        place.add("date_in_number_column", reason, row, column=field.name, value=text)


def _number_text(value: Any, field: Field) -> str:  # noqa: ANN401 - whatever a cell holds
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, dt.datetime):
        if field.type == "date" and value.time() == dt.time():
            return value.date().isoformat()
        return value.isoformat(timespec="seconds")
    return str(value)
