"""Reads CSV row by row and says where a row is ragged or swallowed by a quote."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.counting import counted
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from rigledger.intake.log import FindingLog

_COMMAS = (
    "If the numbers have a decimal comma, save the file with semicolons between the cells, and add"
    ' to result-set.toml:\n[files]\ndelimiter = ";"\ndecimal = ","\n'
    "Else check the row for a superfluous comma; a text that holds one stands in quotes."
)

Row = list["str | int | None"]


@dataclass(frozen=True, slots=True)
class Shape:
    """What is known of a CSV file before its rows are read.

    Attributes:
        file: The file as findings show it.
        delimiter: Delimiter.
        header: The header's cells.
        places: Columns of the contract with their place in the row.
    """

    file: str
    delimiter: str
    header: list[str]
    places: Mapping[str, int]


def sound_rows(path: Path, shape: Shape, log: FindingLog) -> Iterator[Row]:
    """Give the rows that can be read, each with its physical row first.

    Args:
        path: A UTF-8 file whose first line is the header.
        shape: Its delimiter, header and columns.
        log: Takes a finding for every row that can't be read.

    Yields:
        Physical row, then the cells of ``places``, blank ones as None; no rows of blanks.
    """
    chosen = list(shape.places.values())
    with path.open("r", encoding="utf-8-sig", newline="") as stream:
        reader = csv.reader(stream, delimiter=shape.delimiter, strict=True)
        for row, cells, problem in _records(reader):
            if row == 1 and problem is None:
                continue
            if problem is not None:
                log.add("stray_quote", problem, file=shape.file, row=row)
            elif any(cells) and _is_sound(row, cells, shape, log):
                yield [row, *(cells[place] or None for place in chosen)]


def _records(reader: csv._reader) -> Iterator[tuple[int, list[str], str | None]]:  # type: ignore[name-defined]
    while True:
        row = reader.line_num + 1
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            yield row, [], _words(str(error), row, reader.line_num)
            continue
        yield row, cells, None


def _words(error: str, first: int, last: int) -> str:
    lines = f"row {first}" if last <= first else f"rows {first} to {last}"
    if "unexpected end" in error:
        return f"a quote opened in row {first} is never closed, so {lines} are one cell"
    if "field larger" in error:
        return f"a cell that starts in row {first} is longer than any value; a quote may be open"
    return f"a quote stands inside a cell: {error}"


def _is_sound(row: int, cells: list[str], shape: Shape, log: FindingLog) -> bool:
    for place, cell in enumerate(cells):
        lines = cell.splitlines()
        if len(lines) > 1 and _holds_rows(lines, shape):
            column = shape.header[place] if place < len(shape.header) else None
            further = counted(len(lines) - 1, "row")
            reason = (
                f"a quote opened in row {row} is closed {further} further down:"
                " the rows between are lost"
            )
            shown = excerpt(cell)
            log.add("stray_quote", reason, file=shape.file, row=row, column=column, value=shown)
            return False
    return _is_as_wide(row, cells, shape, log)


def _holds_rows(lines: list[str], shape: Shape) -> bool:
    return any(line.count(shape.delimiter) >= max(1, len(shape.header) - 2) for line in lines)


def _is_as_wide(row: int, cells: list[str], shape: Shape, log: FindingLog) -> bool:
    width = len(shape.header)
    beyond = [cell for cell in cells[width:] if cell]
    unnamed = [
        cell for name, cell in zip(shape.header, cells, strict=False) if cell and not name.strip()
    ]
    if len(cells) < width or beyond:
        reason = f"the row has {counted(len(cells), 'cell')}, the header has {width}"
    elif unnamed:
        reason = "a cell stands under a column without a name"
    else:
        return True
    shown = excerpt(", ".join(beyond or unnamed)) or None
    step = _COMMAS if shape.delimiter == "," and _has_decimal_commas(beyond) else None
    log.add("ragged_row", reason, file=shape.file, row=row, value=shown, next_step=step)
    return False


def _has_decimal_commas(beyond: list[str]) -> bool:
    """Whether the cells beyond the header are digits, as halves of numbers with commas are."""
    return bool(beyond) and all(cell.strip().isdigit() for cell in beyond)
