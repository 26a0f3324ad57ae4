"""Whether a typed table of a database keeps its contract: looked at where it is, in few passes."""

from __future__ import annotations

from itertools import chain
from typing import TYPE_CHECKING

from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.compile_typed import (
    compile_repeated_key,
    compile_unknown_reference,
    compile_wrong_values,
)
from rigledger.contract.sql_text import identifier
from rigledger.ordered import stands_in_order

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import duckdb

    from rigledger.contract.model import Table


def table_keeps_contract(
    con: duckdb.DuckDBPyConnection, table: Table, references: Mapping[str, str] | None = None
) -> bool:
    """Tell whether a table keeps its contract: columns, types, values, keys and references.

    Args:
        con: Connection that holds the table under its own name.
        table: The table, with its metric and fact columns where it has some.
        references: Relations that hold the tables of the foreign keys, by table name; a key whose
            table isn't named is not looked at.
    """
    held = con.sql(f"FROM {identifier(table.name)}")
    columns = [(name, str(kind)) for name, kind in zip(held.columns, held.types, strict=True)]
    if columns != [(field.name, SQL_TYPES[field.type]) for field in table.fields]:
        return False
    queries = chain(_queries(con, table), _reference_queries(table, references or {}))
    return not any(con.execute(query).fetchall() for query in queries)


def references_lead_somewhere(
    con: duckdb.DuckDBPyConnection, table: Table, references: Mapping[str, str]
) -> bool:
    """Tell whether the foreign keys of a table lead to rows; otherwise `table_keeps_contract`."""
    return not any(con.execute(query).fetchall() for query in _reference_queries(table, references))


def _queries(con: duckdb.DuckDBPyConnection, table: Table) -> Iterator[str]:
    """Give queries one by one, each of which finds a row where something is wrong."""
    relation = identifier(table.name)
    yield compile_wrong_values(table, relation)
    key = table.primary_key
    # Rows that ascend have no key twice, and that is seen faster than keys are counted.
    if key and not stands_in_order(con, table.name, key, once=True):
        yield compile_repeated_key(key, relation, blanks=True)
    for unique in table.unique_keys:
        yield compile_repeated_key(unique, relation, blanks=False)


def _reference_queries(table: Table, references: Mapping[str, str]) -> Iterator[str]:
    for key in table.foreign_keys:
        if key.table in references:
            referred = identifier(references[key.table])
            yield compile_unknown_reference(key, identifier(table.name), referred)
