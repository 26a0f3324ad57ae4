"""Compiles the scan by which DuckDB reads CSV captures itself, as fast as it reads any CSV.

The cells are cast to DECIMAL, exactly: its digits behind the point are those of a nanosecond, and
it rounds halves away from zero, once. What DECIMAL refuses, the scan refuses. It accepts one
spelling that is no number here, digits grouped by underscores; files that hold an underscore
anywhere are therefore scanned as text, and each cell is held against the spelling first. A decimal
comma is the scan's own option; it then refuses points.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.captures.exact import LARGEST_NS
from rigledger.captures.packed import is_utf8, open_bytes
from rigledger.captures.slow_read import names_of
from rigledger.contract.sql_text import literal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

_SPELLING = "[+-]?([0-9]+[.]?[0-9]*|[.][0-9]+)([eE][+-]?0*[0-9]{1,3})?"
_BYTES_AT_ONCE = 1 << 20


@dataclass(frozen=True, slots=True)
class Layout:
    """What files must share to be read by one scan.

    Attributes:
        header: Names of the columns.
        as_text: Whether the declared column has to be read as text first.
    """

    header: tuple[str, ...]
    as_text: bool


def may_be_plain(source: CaptureSource) -> bool:
    """Say whether DuckDB reads files of this declaration itself."""
    return is_utf8(source.encoding)


def layout_of(path: Path, source: CaptureSource) -> Layout:
    """Give the layout of a CSV file in UTF-8; an empty file has no columns.

    Raises:
        OSError: The file can't be read.
        EOFError: It is packed, and cut short.
        UnicodeDecodeError: Its first row is not UTF-8.
    """
    with open_bytes(path) as stream:
        header = names_of(stream.readline(_BYTES_AT_ONCE).decode("utf-8-sig"), source)
        rest = iter(lambda: stream.read(_BYTES_AT_ONCE), b"")
        return Layout(tuple(header), any(b"_" in chunk for chunk in rest))


def frames_sql(paths: Sequence[Path], source: CaptureSource, layout: Layout) -> str:
    """Compile the scan of CSV files of one layout.

    Returns:
        A query of ``file_index`` (place in ``paths``) and ``frame_ns``, in the order of the files
        and of their rows. A frame time is null where a cell is blank.
    """
    column = f"c{layout.header.index(source.column)}"
    decimal = f"decimal({28 if source.timestamps else 18}, {source.digits})"
    types = {column: "varchar" if layout.as_text else decimal}
    columns = ", ".join(
        f"'c{place}': '{types.get(f'c{place}', 'varchar')}'" for place in range(len(layout.header))
    )
    files = ", ".join(literal(path.as_posix()) for path in paths)
    scan = (
        f"read_csv([{files}], delim = {literal(source.delimiter)}, header = true, "
        f"auto_detect = false, strict_mode = true, columns = {{{columns}}}{_mark(source, layout)})"
    )
    cell = _from_text(_with_point(column, source), decimal) if layout.as_text else column
    return frames_of_values(nanoseconds_of(cell, source), scan, source)


def _mark(source: CaptureSource, layout: Layout) -> str:
    # The option says how numbers are written, and there are none where all is read as text.
    plain = source.decimal == "." or layout.as_text
    return "" if plain else f", decimal_separator = {literal(source.decimal)}"


def _with_point(column: str, source: CaptureSource) -> str:
    """Put a point where the file's decimal comma is; a point in such a file is not a number."""
    return column if source.decimal == "." else f"translate({column}, '.,', '?.')"


def _from_text(cell: str, decimal: str) -> str:
    return f"case when regexp_full_match({cell}, '{_SPELLING}') then ({cell})::{decimal} end"


def text_cells_sql(relation: str, source: CaptureSource) -> str:
    """Compile the same for a relation with a text ``cell`` (decimal point) and a ``file_index``."""
    decimal = f"decimal({28 if source.timestamps else 18}, {source.digits})"
    return frames_of_values(nanoseconds_of(_from_text("cell", decimal), source), relation, source)


def nanoseconds_of(number: str, source: CaptureSource) -> str:
    """Compile an exact number in the declared unit to whole nanoseconds."""
    return f"cast({number} * {10**source.digits} as bigint)"


def frames_of_values(value: str, scan: str, source: CaptureSource) -> str:
    """Compile nanoseconds to frame times: themselves, or differences of points in time."""
    if not source.timestamps:
        return f"select file_index, {value} as frame_ns from {scan}"
    # A point beyond what a capture can hold gives no frame: the slow reader says where it stands.
    point = f"case when {value} between -{LARGEST_NS} and {LARGEST_NS} then {value} end"
    return (
        "select file_index, at_ns - lag(at_ns) over clock as frame_ns from ("
        f"select file_index, {point} as at_ns, row_number() over () as row from {scan}) "
        "window clock as (partition by file_index order by row) "
        "qualify row_number() over clock > 1 order by row"
    )
