"""A handed-in table as text in the database, and how rows are spooled there."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    import duckdb

    from rigledger.intake.plain_read import PlainTable

LONG = 50_000
"""From so many rows on a table is dealt with column by column, and kept once alone."""


@dataclass(frozen=True, slots=True)
class TextTable:
    """One handed-in table, read as text.

    Attributes:
        name: Name of the table in the contract.
        file: File or ``workbook: sheet`` as findings show it.
        relation: Query giving ``_row`` and the columns, all text.
        columns: Columns of the contract that the file has.
        rows: How many rows it has.
        whole: Whether every row of the file is here; False where some could not be read.
        decimal: Decimal mark of its numbers.
        meant: Columns of the contract that headings of the file mean and don't name.
        plain: The table in types where it was read so; ``relation`` then gives those rows alone
            that are kept as text beside.
    """

    name: str
    file: str
    relation: str
    columns: tuple[str, ...]
    rows: int
    whole: bool = True
    decimal: str = "."
    meant: frozenset[str] = frozenset()
    plain: PlainTable | None = None


def make_table(
    con: duckdb.DuckDBPyConnection,
    relation: str,
    columns: Mapping[str, str],
    rows: Sequence[Sequence[object]],
) -> None:
    """Create a table of a few rows with one statement: planning each by itself takes longer.

    Args:
        con: The database.
        relation: Name of the table.
        columns: Its columns, at least one, with their types.
        rows: A value a column each.
    """
    cells = zip(*rows, strict=True) if rows else [()] * len(columns)
    made = ", ".join(f"unnest(?::{kind}[]) AS {identifier(name)}" for name, kind in columns.items())
    con.execute(f"CREATE TABLE {relation} AS SELECT {made}", [list(column) for column in cells])


def keep(
    con: duckdb.DuckDBPyConnection,
    name: str,
    columns: Sequence[str],
    rows: Sequence[Sequence[str | int | None]],
) -> int:
    """Bring the few rows that a manifest states into the table ``intake.raw_<name>``.

    Args:
        con: The database.
        name: Name of the table in the contract.
        columns: Names of the columns behind ``_row``.
        rows: The physical row first, then one cell a column.

    Returns:
        How many rows there were.
    """
    relation = f"intake.{identifier('raw_' + name)}"
    make_table(con, relation, {"_row": "BIGINT"} | dict.fromkeys(columns, "VARCHAR"), rows)
    return len(rows)


def spool(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    name: str,
    columns: Sequence[str],
    rows: Iterable[Sequence[str | int | None]],
) -> int:
    """Bring rows into the table ``intake.raw_<name>`` by way of a file of ours.

    Args:
        con: The database.
        path: A file in our scratch folder that doesn't exist yet.
        name: Name of the table in the contract.
        columns: Names of the columns behind ``_row``.
        rows: The physical row first, then one cell a column.

    Returns:
        How many rows there were.
    """
    with path.open("x", encoding="utf-8", newline="") as stream:
        csv.writer(stream, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows(rows)
    types = ", ".join(f"{text(column)}: 'VARCHAR'" for column in columns)
    shape = "{'_row': 'BIGINT'" + (f", {types}" if types else "") + "}"
    con.execute(
        f"CREATE TABLE intake.{identifier('raw_' + name)} AS SELECT * FROM "
        f"read_csv({text(str(path))}, header=false,"
        f" auto_detect=false, delim=',', quote='\"', escape='\"', columns={shape}, "
        f"strict_mode=true,"
        " max_line_size=20000000, new_line='\\n')"
    )
    path.unlink()
    counted = con.execute(f"SELECT count(*) FROM intake.{identifier('raw_' + name)}").fetchone()
    return int(counted[0]) if counted else 0
