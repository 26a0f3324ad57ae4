"""Finds cells of published tables that no release would spell as they stand."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier
from rigledger.tabular import TabularError, canonical_text, read_text, type_text, value_of_text

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Field, Table


@dataclass(frozen=True, slots=True)
class Misspelling:
    """A cell of a published table that no release would spell like this.

    Attributes:
        row: Record of the file, the header being 1.
        column: Column.
        value: The text as it stands.
        type: Type that the contract gives the column.
    """

    row: int
    column: str
    value: str
    type: str


def misspellings(con: duckdb.DuckDBPyConnection, table: Table, relation: str) -> list[Misspelling]:
    """Find the cells of a text table that are not spelled as writing them would spell them.

    Args:
        con: Connection that holds the text table.
        table: Columns and types.
        relation: The text table, with ``_row``.

    Returns:
        Every such cell, by row and column.
    """
    wrong = [_is_misspelt(field) for field in table.fields]
    source = identifier(relation)
    # Planning one query a column takes longer than looking whether any is needed.
    if not con.execute(f"SELECT 1 FROM {source} WHERE {' OR '.join(wrong)} LIMIT 1").fetchall():
        return []
    parts = [
        f"SELECT _row, {number} AS place, {identifier(field.name)} FROM {source} WHERE {here}"
        for number, (field, here) in enumerate(zip(table.fields, wrong, strict=True))
    ]
    rows = con.execute(" UNION ALL ".join(parts) + " ORDER BY 1, 2").fetchall()
    return [
        Misspelling(row, table.fields[place].name, value, table.fields[place].type)
        for row, place, value in rows
    ]


def _is_misspelt(field: Field) -> str:
    cell = identifier(field.name)
    if field.type == "string":
        return f"({cell} = '')"
    canonical = canonical_text(field, value_of_text(field, cell))
    return f"({cell} IS NOT NULL AND {cell} IS DISTINCT FROM {canonical})"


def load_csv(
    con: duckdb.DuckDBPyConnection, table: Table, path: Path, target: str | None = None
) -> None:
    """Read a published CSV file into a typed DuckDB table.

    Args:
        con: Connection to fill.
        table: Columns and types.
        path: The file.
        target: Table to make or replace; None for the contract's name.

    Raises:
        TabularError: As for ``read_text``, and for the first cell that is not spelled canonically.
    """
    text = f"text_{target or table.name}"
    read_text(con, path, table.field_names, text)
    for wrong in misspellings(con, table, text):
        raise TabularError(
            f"not a {wrong.type} as a release spells it",
            file=path.name, row=wrong.row, column=wrong.column, value=wrong.value,
        )  # fmt: skip
    type_text(con, table, text, target)
    con.execute(f"DROP TABLE {identifier(text)}")
