"""Compares two typed tables of the same columns cell by cell."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, literal
from rigledger.tabular import canonical_text

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract.model import Field, Table

RELATIVE = 1e-9
"""How far two derived numbers may lie apart and still be the same: the second promise."""

ABSOLUTE = 1e-12
"""The same for numbers that are the difference of two nearly equal ones, and so nearly zero."""


@dataclass(frozen=True, slots=True)
class CellDifference:
    """A cell in which two tables differ; ``column`` is None where one lacks the row.

    Attributes:
        key: Key of the row, as ``rig=… metric=…``.
        column: The column; None for a whole row.
        left: Text of the first table's cell; None where it is blank or the row is missing.
        right: The same of the second table.
    """

    key: str
    column: str | None
    left: str | None
    right: str | None


def cell_differences(
    con: duckdb.DuckDBPyConnection, table: Table, left: str, right: str
) -> list[CellDifference]:
    """Compare two typed relations of a table that has a primary key.

    Numbers are the same where they lie within ``RELATIVE`` of each other (or ``ABSOLUTE``, near
    zero); everything else where it is equal.

    Args:
        con: Connection that holds both.
        table: Columns and key.
        left: Name of the first relation.
        right: Name of the second.

    Returns:
        Rows that one of them lacks, then cells, each by key and column.
    """
    parts = [
        _rows_without_partner(table, left, right, "left"),
        _rows_without_partner(table, right, left, "right"),
        *(
            _other_cells(table, field, left, right, place)
            for place, field in enumerate(table.fields)
            if field.name not in table.primary_key
        ),
    ]
    rows = con.execute(" UNION ALL ".join(parts) + " ORDER BY 1, 2, 3").fetchall()
    return [CellDifference(key, column, one, other) for _, key, column, one, other in rows]


def _key_text(table: Table, alias: str) -> str:
    fields = (table.field(name) for name in table.primary_key)
    parts = (
        f"{literal(field.name + '=')} || "
        f"coalesce({canonical_text(field, f'{alias}.{identifier(field.name)}')}, '')"
        for field in fields
    )
    return " || ' ' || ".join(parts)


def _same_key(table: Table) -> str:
    return " AND ".join(
        f"a.{identifier(name)} IS NOT DISTINCT FROM b.{identifier(name)}"
        for name in table.primary_key
    )


def _rows_without_partner(table: Table, here: str, there: str, side: str) -> str:
    cells = "'row', NULL" if side == "left" else "NULL, 'row'"
    return (
        f"SELECT -1 AS place, {_key_text(table, 'a')} AS row_key, NULL AS column_name, {cells} "
        f"FROM {identifier(here)} AS a "
        f"WHERE NOT EXISTS (SELECT 1 FROM {identifier(there)} AS b WHERE {_same_key(table)})"
    )


def _other_cells(table: Table, field: Field, left: str, right: str, place: int) -> str:
    one, other = f"a.{identifier(field.name)}", f"b.{identifier(field.name)}"
    differ = f"{one} IS DISTINCT FROM {other}"
    if field.type == "number":
        apart = f"abs({one} - {other})"
        allowed = f"greatest({RELATIVE} * greatest(abs({one}), abs({other})), {ABSOLUTE})"
        differ += f" AND coalesce({apart} > {allowed} OR NOT isfinite({apart}), true)"
    return (
        f"SELECT {place}, {_key_text(table, 'a')}, {literal(field.name)}, "
        f"{canonical_text(field, one)}, {canonical_text(field, other)} "
        f"FROM {identifier(left)} AS a JOIN {identifier(right)} AS b "
        f"ON {_same_key(table)} WHERE {differ}"
    )
