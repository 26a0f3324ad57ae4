"""Whether a typed table of a database keeps its contract: looked at where it is, in few passes."""

from __future__ import annotations

from dataclasses import replace
from itertools import chain
from typing import TYPE_CHECKING, Any

from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.compile_typed import (
    compile_repeated_key,
    compile_unknown_reference,
    compile_wrong_values,
)
from rigledger.contract.plain_values import no_key_twice, surely_fine_values
from rigledger.contract.sql_text import identifier
from rigledger.database import read_columns
from rigledger.ordered import stands_in_order

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import duckdb

    from rigledger.contract.model import Field, Table


MOST_CELLS = 20_000
"""A table of more cells is looked at by the database, which takes no longer then."""


def table_keeps_contract(
    con: duckdb.DuckDBPyConnection,
    table: Table,
    references: Mapping[str, Table] | None = None,
    *,
    in_order: bool = False,
) -> bool:
    """Tell whether a table keeps its contract: columns, types, values, keys and references.

    Args:
        con: Connection that holds the table under its own name.
        table: The table, with its metric and fact columns where it has some.
        references: Tables that foreign keys may lead to, by name; the connection holds them too,
            and each is checked by itself. A key whose table isn't named is not looked at.
        in_order: Whether `published_order` has been told of it.
    """
    held = con.sql(f"FROM {identifier(table.name)}")
    columns = [(name, str(kind)) for name, kind in zip(held.columns, held.types, strict=True)]
    if columns != [(field.name, SQL_TYPES[field.type]) for field in table.fields]:
        return False
    known = references or {}
    ((rows,),) = con.execute(f"SELECT count(*) FROM {identifier(table.name)}").fetchall()
    if rows * len(columns) <= MOST_CELLS and cells_surely_fine(table, _cells(con, table)):
        return not any(con.execute(query).fetchall() for query in _reference_queries(table, known))
    wrong = compile_wrong_values(_own_conditions(table, known), identifier(table.name))
    keys = _key_queries(con, table, rows, in_order=in_order)
    queries = chain([wrong], keys, _reference_queries(table, known))
    return not any(con.execute(query).fetchall() for query in queries)


def _cells(con: duckdb.DuckDBPyConnection, table: Table) -> dict[str, tuple[Any, ...]]:
    return read_columns(con, f"FROM {identifier(table.name)}", table.field_names)


def cells_surely_fine(table: Table, cells: Mapping[str, Sequence[Any]]) -> bool:
    """Whether nothing is wrong with the values and keys of a short table, for certain.

    Args:
        table: The table.
        cells: Its values by column, as the database gives them for the columns' types.
    """
    fine = all(surely_fine_values(held, cells[held.name]) for held in table.fields)
    return fine and no_key_twice(table, cells)


def references_lead_somewhere(
    con: duckdb.DuckDBPyConnection, table: Table, references: Mapping[str, Table]
) -> bool:
    """Tell whether the foreign keys of a table lead to rows; otherwise `table_keeps_contract`."""
    return not any(con.execute(query).fetchall() for query in _reference_queries(table, references))


def _own_conditions(table: Table, references: Mapping[str, Table]) -> Iterator[Field]:
    """Give the columns without what holds of them because it holds where their keys lead."""
    led = {
        key.field: references[key.table].field(key.reference)
        for key in table.foreign_keys
        if key.table in references
    }
    for field in table.fields:
        other = led.get(field.name)
        same = other is not None and _words(other) == _words(field)
        yield replace(field, pattern=None, enum=(), max_length=None) if same else field


def _words(field: Field) -> tuple[object, ...]:
    return field.pattern, field.enum, field.max_length


def _key_queries(
    con: duckdb.DuckDBPyConnection, table: Table, rows: int, *, in_order: bool
) -> Iterator[str]:
    relation, key = identifier(table.name), table.primary_key
    # Rows that ascend have no key twice, and that is seen faster than keys are counted.
    if key and not (in_order or stands_in_order(con, table.name, key, once=True, rows=rows)):
        yield compile_repeated_key(key, relation, blanks=True)
    for unique in table.unique_keys:
        yield compile_repeated_key(unique, relation, blanks=False)


def _reference_queries(table: Table, references: Mapping[str, Table]) -> Iterator[str]:
    for key in table.foreign_keys:
        if key.table in references:
            referred = identifier(key.table)
            yield compile_unknown_reference(key, identifier(table.name), referred)
