"""Reads a CSV capture row by row: knows every physical row, so it can say where a problem is.

The fast readers hand a file over when anything in it is not a plain positive decimal number.
"""

from __future__ import annotations

import csv
from array import array
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, TextIO

from rigledger.captures.exact import is_not_finite, is_number, nanoseconds
from rigledger.captures.packed import open_text
from rigledger.captures.problems import CaptureProblem
from rigledger.captures.wrong_column import durations_problem, points_problem
from rigledger.contract.limits import limit

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rigledger.captures.source import CaptureSource


@dataclass
class SlowRead:
    """Frame times in nanoseconds, and what is wrong with the cells that give none.

    Attributes:
        source: The declaration of the column.
        frames: Frame times, in order (signed 64-bit).
        problems: Problems, by row; of very many the first are kept, the others counted.
    """

    source: CaptureSource
    frames: array[int] = field(default_factory=lambda: array("q"))
    problems: list[CaptureProblem] = field(default_factory=list)
    _values: int = 0
    _rises: int = 0
    _falls: int = 0
    _first: int = 0
    _before: int | None = None
    _back: tuple[int, str, int] | None = None
    _passed_over: int = 0

    def take(self, row: int, text: str) -> None:
        """Take one cell of the declared column."""
        point = text if self.source.decimal == "." else _with_point(text)
        if not is_number(point):
            self.add(_unreadable(row, text, self.source))
            return
        value = nanoseconds(point, self.source.digits)
        if value is None:
            reason = "the time is longer than a century"
            self._add("capture_out_of_bounds", row, text, reason)
            return
        before, self._before = self._before, value
        self._count(before, value)
        if self.source.timestamps:
            self._take_point(row, text, before, value)
        else:
            self._take_frame(row, text, value)

    def end(self) -> None:
        """Take the end of the file, at which the column as a whole is judged."""
        self._settle_back(None)
        seen = (self._values, self._rises, self._falls)
        judge = durations_problem if self.source.timestamps else points_problem
        wrong = judge(self.source.column, *seen)
        if wrong is not None:
            self.problems, self._passed_over = [wrong], 0
        if self._passed_over:
            reason = f"{self._passed_over} more places of this file have problems"
            self.problems.append(CaptureProblem("capture_unreadable", None, None, None, reason))

    def add(self, problem: CaptureProblem) -> None:
        """Keep a problem, or count it where there are very many."""
        if len(self.problems) < limit("captures.named_places"):
            self.problems.append(problem)
        else:
            self._passed_over += 1

    def _count(self, before: int | None, value: int) -> None:
        self._values += 1
        if before is None:
            self._first = value
        else:
            self._rises += value > before
            self._falls += value < before

    def _take_point(self, row: int, text: str, before: int | None, value: int) -> None:
        self._settle_back(value)
        if before is None:
            return
        if value < before:
            self._back = (row, text, before)
        elif value == before:
            reason = "the same point in time as the frame before"
            self._add("capture_frame_twice", row, text, reason)
        else:
            self.frames.append(value - before)

    def _settle_back(self, then: int | None) -> None:
        """Judge a step back by the point behind it: one row astray, or a clock that starts anew."""
        if self._back is None:
            return
        (row, text, before), self._back = self._back, None
        value = self._before if then is None else None
        astray = then > before if then is not None else value is not None and value > self._first
        if astray:
            reason = "the row stands behind a later point in time, and the clock goes on from there"
            self._add("capture_out_of_order", row, text, reason)
        else:
            reason = f"the clock falls back from {before} ns: it was set anew, or two logs joined"
            self._add("capture_clock_reset", row, text, reason)

    def _take_frame(self, row: int, text: str, value: int) -> None:
        if value > 0:
            self.frames.append(value)
        else:
            self._add("capture_not_positive", row, text, f"a frame can't take {value} ns")

    def _add(self, rule: str, row: int, text: str, reason: str) -> None:
        self.add(CaptureProblem(rule, row, self.source.column, text, reason))


def names_of(line: str, source: CaptureSource) -> list[str]:
    """Give the names of the columns from the first row of a CSV file."""
    cells = next(csv.reader([line], delimiter=source.delimiter), [])
    return [cell.strip() for cell in cells]


def read_rows(path: Path, source: CaptureSource, index: int, width: int) -> SlowRead:
    """Read one column of a CSV file with its header on the first row.

    Args:
        path: The file.
        source: The declaration of its column and layout.
        index: Place of the column, from 0.
        width: Number of columns of the header.
    """
    read = SlowRead(source)
    with open_text(path, source.encoding) as stream:
        for row, cells in _records(stream, source.delimiter, width):
            if len(cells) == width:
                read.take(row, cells[index].strip())
            else:
                read.add(_ragged(row, len(cells), width))
    read.end()
    return read


def _records(stream: TextIO, delimiter: str, width: int) -> Iterator[tuple[int, list[str]]]:
    """Give the records behind the header; blank lines count only inside a file of one column."""
    reader = csv.reader(stream, delimiter=delimiter)
    next(reader, None)
    blanks: list[int] = []
    for cells in reader:
        if not cells:
            blanks.append(reader.line_num)
            continue
        if width == 1:
            yield from ((row, [""]) for row in blanks)
        blanks.clear()
        yield reader.line_num, cells


def _with_point(text: str) -> str:
    """Put a point where the file's decimal comma is; a point in such a file is not a number."""
    return text.replace(".", "?").replace(",", ".")


def _unreadable(row: int, text: str, source: CaptureSource) -> CaptureProblem:
    if not text:
        return CaptureProblem("capture_value_missing", row, source.column, "", "the cell is empty")
    if is_not_finite(text):
        reason = "NaN and infinity are not times"
        return CaptureProblem("capture_not_finite", row, source.column, text, reason)
    other = "," if source.decimal == "." else "."
    hint = ""
    if text.count(other) == 1 and is_number(text.replace(other, ".")):
        hint = (
            f'if the file writes its decimals so, add decimal = "{other}" under [captures] '
            "in result-set.toml"
        )
    return CaptureProblem(
        "capture_not_a_number", row, source.column, text, "the cell holds no number", hint
    )


def _ragged(row: int, found: int, width: int) -> CaptureProblem:
    reason = f"the row has {found} cells where the header has {width}"
    return CaptureProblem("capture_ragged_row", row, None, None, reason)
