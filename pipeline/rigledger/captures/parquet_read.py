"""Compiles the scan of handed-in Parquet captures: each cell is the number that was meant.

What was meant is the shortest decimal text that gives the stored number back. Whole numbers are
that text already. Of a DOUBLE it need not be written out where scaling lands clearly on one whole
nanosecond (`rigledger.captures.arrow_read` says how that is known); the others are left blank, and
the reader of single files takes them from their text, as it takes every other type.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb

from rigledger.captures.fast_read import frames_of_values, nanoseconds_of, text_cells_sql
from rigledger.captures.problems import CaptureProblem
from rigledger.contract.sql_text import identifier, literal

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from rigledger.captures.source import CaptureSource

_WHOLE = {"TINYINT", "SMALLINT", "INTEGER", "BIGINT"} | {"UTINYINT", "USMALLINT", "UINTEGER"}
_AS_TEXT = {"FLOAT", "VARCHAR", "UBIGINT", "HUGEINT"}


def columns_of(con: duckdb.DuckDBPyConnection, path: Path) -> dict[str, str]:
    """Give the columns of a Parquet file: name to type.

    Raises:
        duckdb.Error: The file can't be read.
    """
    rows = con.execute(f"describe from read_parquet([{_listed([path])}])").fetchall()
    return {row[0]: row[1] for row in rows}


def type_problem(kind: str, source: CaptureSource) -> CaptureProblem | None:
    """Say that a column can't hold numbers, None where it can, be it as text."""
    if kind in _WHOLE | _AS_TEXT | {"DOUBLE"} or kind.startswith("DECIMAL"):
        return None
    reason = f"the column holds {kind[:60]}, not numbers"
    dated = kind.startswith(("TIMESTAMP", "TIME", "DATE", "INTERVAL"))
    step = "write the times as numbers, such as seconds from the start" if dated else ""
    return CaptureProblem("capture_column_type", None, source.column, None, reason, step)


def alike(con: duckdb.DuckDBPyConnection, paths: Sequence[Path]) -> Iterator[list[Path]]:
    """Group files by their columns and types as the files state them; unreadable ones are left out.

    One statement reads what many files say of themselves; where one can't be read, they are halved.
    """
    if not paths:
        return
    try:
        rows = con.execute(
            f"""select list(file_name order by file_name) from (
                select file_name, list([name, type, converted_type, logical_type::varchar])
                    as columns
                from parquet_schema([{_listed(paths)}]) group by file_name
            ) group by columns order by all"""
        ).fetchall()
    except duckdb.Error:
        half = len(paths) // 2
        for some in (paths[:half], paths[half:]) if half else ():
            yield from alike(con, some)
        return
    by_name = {path.as_posix(): path for path in paths}
    yield from ([by_name[name] for name in names] for (names,) in rows)


def parquet_sql(paths: Sequence[Path], source: CaptureSource, kind: str) -> str:
    """Compile the scan of Parquet files whose declared column has one type.

    Returns:
        A query of ``file_index`` (place in ``paths``) and ``frame_ns``, in the order of the files
        and of their rows. A frame time is null where a cell is blank or needs to be read as text.
    """
    column = identifier(source.column)
    scan = f"read_parquet([{_listed(paths)}])"
    if kind in _WHOLE:
        return frames_of_values(nanoseconds_of(f"{column}::hugeint", source), scan, source)
    if kind == "DOUBLE":
        scaled = f"({column} * 1e{source.digits})"
        plain = f"abs({scaled}) < 2e12 and abs({scaled} - round({scaled})) < 0.499"
        value = f"case when {plain} then round({scaled})::bigint end"
        return frames_of_values(value, scan, source)
    text = f"(select file_index, trim({column}::varchar) as cell from {scan})"
    return text_cells_sql(text, source)


def text_sql(path: Path, source: CaptureSource) -> str:
    """Compile a relation of ``cell``, the text of each value of one file's declared column."""
    return (
        f"(select cast({identifier(source.column)} as varchar) as cell "
        f"from read_parquet([{_listed([path])}]))"
    )


def _listed(paths: Sequence[Path]) -> str:
    return ", ".join(literal(path.as_posix()) for path in paths)
