"""Shows a table that was read straight into types as ``handed.<table>``."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.compile_sql import typed_select
from rigledger.contract.sql_text import identifier, text

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    import duckdb

    from rigledger.intake.plain_form import PlainColumn
    from rigledger.intake.plain_read import PlainTable


def odd_rows(table: str) -> str:
    """Name the table of the rows that are kept as text, in types."""
    return f"handed.{identifier(f'odd_{table}')}"


def make_plain(
    con: duckdb.DuckDBPyConnection,
    plain: PlainTable,
    *,
    columns: Collection[str],
    sound: Collection[str],
) -> None:
    """Create ``handed.<table>``, and ``handed.odd_<table>`` of the rows that are kept as text.

    The values of odd rows are brought into the former by `settle_plain`, once all that is wrong
    with them has been forgotten.
    """
    name = plain.table.name
    selected = typed_select(plain.table, f"intake.text_{name}", columns=columns, sound=sound)
    con.execute(f"CREATE TABLE {odd_rows(name)} AS {selected}")
    show_plain(con, plain)


def show_plain(
    con: duckdb.DuckDBPyConnection, plain: PlainTable, *, without: Sequence[int] = ()
) -> None:
    """Create the view ``handed.<table>`` of all rows but some."""
    name = plain.table.name
    further = _with_further_words(con, plain)
    values = {
        field.name: further.get(field.name) or plain.values(field.name)
        for field in plain.table.fields
    }
    picked = ", ".join(f"{value} AS {identifier(field)}" for field, value in values.items())
    where = f" WHERE rowid + 2 NOT IN ({', '.join(map(str, without))})" if without else ""
    con.execute(
        f"CREATE OR REPLACE VIEW handed.{identifier(name)} AS"
        f" SELECT rowid + 2 AS _row, {picked} FROM {plain.relation}{where}"
    )


def settle_plain(con: duckdb.DuckDBPyConnection, plain: PlainTable) -> None:
    """Bring the values of odd rows into ``handed.<table>``, where they are others than were read.

    Words are there already.
    """
    kept = [one for one in plain.columns if not one.constant and one.enum is None]
    if not plain.odd or not kept:
        return
    odd = odd_rows(plain.table.name)
    read = f"intake.{identifier(f'raw_{plain.table.name}')}"
    others = ", ".join(f"bool_or(r.{one.read} IS DISTINCT FROM o.{one.name})" for one in kept)
    # Where no row was lost the two stand row by row: to put them side by side is no work at all.
    query = f"SELECT bool_and(r._row = o._row), {others} FROM {read} AS r {{}} {odd} AS o"
    same, *row = con.execute(query.format("POSITIONAL JOIN")).fetchone() or (None,)
    if not same:
        _, *row = con.execute(f"{query.format('JOIN')} USING (_row)").fetchone() or (None,)
    for one, other in zip(kept, row, strict=True):
        if other:
            con.execute(
                f"UPDATE {plain.relation} AS p SET {one.name} = o.{one.name} FROM {odd} AS o"
                f" WHERE p.rowid = o._row - 2 AND p.{one.name} IS DISTINCT FROM o.{one.name}"
            )


def _with_further_words(con: duckdb.DuckDBPyConnection, plain: PlainTable) -> dict[str, str]:
    """Give the values of the columns in which an odd row has a word that no plain row has."""
    worded = [one for one in plain.columns if one.words is not None]
    if not plain.odd or not worded:
        return {}
    asked = ", ".join(_has_further(one) for one in worded)
    row = con.execute(f"SELECT {asked} FROM {odd_rows(plain.table.name)}").fetchone() or ()
    places = {one.field.name: place for place, one in enumerate(plain.columns, 1)}
    return {
        one.field.name: f"CASE WHEN _odd IS NULL THEN CAST({one.typed()} AS VARCHAR)"
        f" ELSE nullif(_odd[{places[one.field.name]}], '') END"
        for one, further in zip(worded, row, strict=True)
        if further
    }


def _has_further(column: PlainColumn) -> str:
    if column.enum:
        unknown = f"TRY_CAST({column.name} AS {column.enum}) IS NULL"
        return f"bool_or({column.name} IS NOT NULL AND {unknown})"
    word = text(column.words[0]) if column.words else f"NULL::{SQL_TYPES['string']}"
    return f"bool_or({column.name} IS DISTINCT FROM {word})"
