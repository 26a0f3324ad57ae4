"""Compiles the scan by which DuckDB reads CSV captures itself, as fast as it reads any CSV.

The cells are cast to DECIMAL, exactly: its digits behind the point are those of a nanosecond, and
it rounds halves away from zero, once. What DECIMAL refuses, the scan refuses. It accepts one
spelling that is no number here, digits grouped by underscores; files that hold an underscore
anywhere are therefore scanned as text, and each cell is held against the spelling first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.captures.slow_read import names_of, open_bytes
from rigledger.contract.sql_text import literal

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

_SPELLING = "[+-]?([0-9]+[.]?[0-9]*|[.][0-9]+)([eE][+-]?[0-9]{1,3})?"
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
    return source.encoding.lower() in {"utf-8", "utf8"} and source.decimal == "."


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
        f"auto_detect = false, strict_mode = true, columns = {{{columns}}})"
    )
    return differences_sql(_cell(column, decimal, layout), scan, source)


def _cell(column: str, decimal: str, layout: Layout) -> str:
    if not layout.as_text:
        return column
    return f"case when regexp_full_match({column}, '{_SPELLING}') then {column}::{decimal} end"


def text_cells_sql(relation: str, source: CaptureSource) -> str:
    """Compile the same for a relation with a text column ``cell`` and a ``file_index``."""
    decimal = f"decimal({28 if source.timestamps else 18}, {source.digits})"
    return differences_sql(_cell("cell", decimal, Layout((), as_text=True)), relation, source)


def differences_sql(cell: str, scan: str, source: CaptureSource) -> str:
    """Compile decimal cells to frame times: themselves, or differences of points in time."""
    value = f"cast({cell} * {10**source.digits} as bigint)"
    if not source.timestamps:
        return f"select file_index, {value} as frame_ns from {scan}"
    return (
        "select file_index, at_ns - lag(at_ns) over clock as frame_ns from ("
        f"select file_index, {value} as at_ns, row_number() over () as row from {scan}) "
        "window clock as (partition by file_index order by row) "
        "qualify row_number() over clock > 1 order by row"
    )
