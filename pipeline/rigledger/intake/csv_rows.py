"""Reads CSV row by row and says where a row is not sound: ragged, swallowed by a quote, broken over lines."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

    from rigledger.intake.log import FindingLog

Row = list["str | int | None"]


def sound_rows(
    path: Path,
    delimiter: str,
    header: list[str],
    places: Mapping[str, int],
    log: FindingLog,
    file: str,
) -> Iterator[Row]:
    """Give the rows that can be read, each with its physical row first.

    Args:
        path: A UTF-8 file whose first line is the header.
        delimiter: Delimiter.
        header: The header's cells.
        places: Columns to give, with their place in the row.
        log: Takes a finding for every row that can't be read.
        file: The file as findings show it.

    Yields:
        Physical row, then the cells of ``places``; blank cells as None, rows of blank cells not at all.
    """
    chosen = list(places.values())
    with path.open("r", encoding="utf-8-sig", newline="") as stream:
        for row, cells, problem in _records(csv.reader(stream, delimiter=delimiter, strict=True)):
            if row == 1 and problem is None:
                continue
            if problem is not None:
                log.add("stray_quote", problem, file=file, row=row)
            elif any(cells) and _is_sound(cells, header, delimiter, log, file, row):
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


def _is_sound(
    cells: list[str], header: list[str], delimiter: str, log: FindingLog, file: str, row: int
) -> bool:
    for place, cell in enumerate(cells):
        if "\n" in cell or "\r" in cell:
            if any(line.count(delimiter) >= max(1, len(header) - 2) for line in cell.splitlines()):
                column = header[place] if place < len(header) else None
                lines = len(cell.splitlines())
                reason = f"a quote opened in row {row} is closed {lines - 1} rows further down: the rows between are lost"
                log.add(
                    "stray_quote", reason, file=file, row=row, column=column, value=excerpt(cell)
                )
                return False
    return _is_as_wide(cells, header, log, file, row)


def _is_as_wide(cells: list[str], header: list[str], log: FindingLog, file: str, row: int) -> bool:
    beyond = [cell for place, cell in enumerate(cells) if place >= len(header)]
    unnamed = [
        cells[n] for n, name in enumerate(header[: len(cells)]) if not name.strip() and cells[n]
    ]
    if len(cells) < len(header):
        reason = f"the row has {len(cells)} cells, the header has {len(header)}"
        log.add("ragged_row", reason, file=file, row=row)
        return False
    if any(beyond):
        reason = f"the row has {len(cells)} cells, the header has {len(header)}"
        log.add("ragged_row", reason, file=file, row=row, value=excerpt(", ".join(beyond)))
        return False
    if unnamed:
        reason = "a cell stands under a column without a name"
        log.add("ragged_row", reason, file=file, row=row, value=excerpt(", ".join(unnamed)))
    return not unnamed
