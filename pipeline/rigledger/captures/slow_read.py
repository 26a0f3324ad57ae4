"""Reads a CSV capture row by row: knows every physical row, so it can say where a problem is.

The fast reader hands a file over when anything in it is not a plain positive decimal number.
"""

from __future__ import annotations

import csv
import gzip
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, BinaryIO, TextIO

from rigledger.captures.exact import is_not_finite, is_number, nanoseconds
from rigledger.captures.problems import CaptureProblem

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rigledger.captures.source import CaptureSource


@dataclass
class SlowRead:
    """Frame times in nanoseconds, and what is wrong with the cells that give none.

    Attributes:
        source: The declaration of the column.
        frames: Frame times, in order.
        problems: Problems, by row.
    """

    source: CaptureSource
    frames: list[int] = field(default_factory=list)
    problems: list[CaptureProblem] = field(default_factory=list)
    _clock: int | None = None

    def take(self, row: int, text: str) -> None:
        """Take one cell of the declared column."""
        point = text if self.source.decimal == "." else _with_point(text)
        if not is_number(point):
            self.problems.append(_unreadable(row, text, self.source))
            return
        value = nanoseconds(point, self.source.digits)
        if value is None:
            reason = "the time is longer than a century"
            self._add("capture_out_of_bounds", row, text, reason)
        elif self.source.timestamps:
            self._take_point(row, text, value)
        else:
            self._take_frame(row, text, value)

    def _take_point(self, row: int, text: str, value: int) -> None:
        before, self._clock = self._clock, value
        if before is None:
            return
        if value < before:
            back = before - value
            reason = f"the clock goes back by {back} ns: it was set anew, or two logs were joined"
            self._add("capture_clock_reset", row, text, reason)
        elif value == before:
            reason = "the same point in time as the frame before: a frame written twice"
            self._add("capture_not_positive", row, text, reason)
        else:
            self.frames.append(value - before)

    def _take_frame(self, row: int, text: str, value: int) -> None:
        if value > 0:
            self.frames.append(value)
        else:
            self._add("capture_not_positive", row, text, f"a frame can't take {value} ns")

    def _add(self, rule: str, row: int, text: str, reason: str) -> None:
        self.problems.append(CaptureProblem(rule, row, self.source.column, text, reason))


def open_text(path: Path, encoding: str) -> TextIO:
    """Open a CSV capture, packed with gzip or not; a byte-order mark of UTF-8 is skipped."""
    if encoding.lower().replace("_", "-") in {"utf-8", "utf8"}:
        encoding = "utf-8-sig"
    if path.suffix == ".gz":
        return gzip.open(path, "rt", encoding=encoding, newline="")
    return path.open("r", encoding=encoding, newline="")


def open_bytes(path: Path) -> BinaryIO:
    """Open a capture's bytes, packed with gzip or not."""
    if path.suffix == ".gz":
        return gzip.open(path, "rb")  # type: ignore[return-value]
    return path.open("rb")


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
                read.problems.append(_ragged(row, len(cells), width))
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
