"""Reads a Parquet file as text: typed columns by their exact text, nested ones not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb

from rigledger.contract.sql_text import identifier, text
from rigledger.intake.headers import match_header
from rigledger.intake.limits import limit, named
from rigledger.intake.texttable import TextTable
from rigledger.intake.versions import is_version

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.contract.model import Table
    from rigledger.intake.log import FindingLog

_EXACT = (
    "VARCHAR", "BOOLEAN", "DATE", "DECIMAL", "TINYINT", "SMALLINT", "INTEGER", "BIGINT", "HUGEINT",
    "UTINYINT", "USMALLINT", "UINTEGER", "UBIGINT",
)  # fmt: skip
_INEXACT = ("DOUBLE", "FLOAT")


def read_parquet_table(
    con: duckdb.DuckDBPyConnection, path: Path, table: Table, log: FindingLog
) -> TextTable | None:
    """Read one Parquet file into ``intake.raw_<table>``.

    Returns:
        The table as text, rows counted from 1; None where the file is no Parquet file or too large.
    """
    source = f"read_parquet({text(str(path))})"
    try:
        shape = con.execute(f"DESCRIBE SELECT * FROM {source}").fetchall()
        matched = match_header([name for name, *_ in shape], table, log, file=path.name, row=0)
        places = matched.places
        cells = [
            cell
            for name, kind, *_ in shape
            if name in places and (cell := _cell(name, kind, table, log, path.name))
        ]
        raw = f"intake.{identifier('raw_' + table.name)}"
        con.execute(
            f"CREATE TABLE {raw} AS SELECT {', '.join(cells) or 'NULL AS _none'} FROM {source}"
        )
        counted = con.execute(f"SELECT count(*) FROM {raw}").fetchone()
    except duckdb.Error as error:
        said = str(error).splitlines()[0].replace(str(path), path.name)
        reason = f"the file is no Parquet file that can be read: {said}"
        log.add("table_damaged", reason, file=path.name)
        return None
    rows = int(counted[0]) if counted else 0
    if rows > limit("tables.rows"):
        reason = f"the table has {rows} rows, beyond {named('tables.rows')}"
        log.add("table_too_large", reason, file=path.name)
    if rows == 0:
        log.add("no_rows", "the file has columns and no rows", file=path.name)
    held = tuple(
        name for name in places if any(cell.endswith(f"AS {identifier(name)}") for cell in cells)
    )
    relation = f"(SELECT rowid + 1 AS _row, * FROM {raw})"
    return TextTable(table.name, path.name, relation, held, rows, meant=matched.meant)


def _cell(name: str, kind: str, table: Table, log: FindingLog, file: str) -> str | None:
    """Give the SQL that turns a typed column into text; None where there is no faithful text."""
    column = identifier(name)
    plain = kind.partition("(")[0]
    if plain in _INEXACT and is_version(table.field(name)):
        reason = f"{name} is text and stands here as {kind}, which can't tell 551.10 from 551.1"
        log.add("number_in_version_column", reason, file=file, column=name)
    if plain in _EXACT or plain in _INEXACT:
        return f"CAST({column} AS VARCHAR) AS {column}"
    if plain.startswith("TIMESTAMP"):
        zoned = "Z" if "TIME ZONE" in kind else ""
        form = f"strftime({column}::TIMESTAMP, '%Y-%m-%dT%H:%M:%S{zoned}')"
        return f"{form} AS {column}"
    log.add(
        "column_kind", f"the column holds {kind}, which has no plain text", file=file, column=name
    )
    return None
