"""Tells whether the rows of a table stand in an order already: looking is cheaper than sorting."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb

    from rigledger.contract.model import Table

WORTH_A_LOOK = 10_000
"""Fewer rows are sorted in no time."""


def stands_in_order(
    con: duckdb.DuckDBPyConnection,
    relation: str,
    columns: Sequence[str],
    *,
    once: bool = False,
    rows: int | None = None,
) -> bool:
    """Tell whether the rows of a table ascend by some columns as they stand, blanks last.

    Args:
        con: Connection that holds the table.
        relation: Its name.
        columns: Columns to compare by, the first one first.
        once: Whether no two rows may agree in all of them.
        rows: How many rows the table has; None to count them.

    Returns:
        Whether they do; always False of a table of fewer than `WORTH_A_LOOK` rows.
    """
    table = identifier(relation)
    if rows is None:
        ((rows,),) = con.execute(f"SELECT count(*) FROM {table}").fetchall()
    if rows < WORTH_A_LOOK:
        return False
    # Rows are compared within a structure: there a blank is above every value, as in NULLS LAST.
    here = f"row({', '.join(identifier(name) for name in columns)})"
    found = con.execute(
        f"SELECT 1 FROM (SELECT {here} AS here, lag({here}) OVER () AS before FROM {table})"
        f" WHERE before {'>=' if once else '>'} here LIMIT 1"
    ).fetchall()
    return not found


def published_order(
    con: duckdb.DuckDBPyConnection,
    table: Table,
    relation: str | None = None,
    *,
    rows: int | None = None,
) -> bool:
    """Tell whether a table's rows stand as a release lists them: by its key, or all its columns.

    By its key only if no two rows have the same. Where it is known how many ``rows`` there are,
    they need not be counted.
    """
    held = relation or table.name
    if table.primary_key:
        return stands_in_order(con, held, table.primary_key, once=True, rows=rows)
    # Mostly two columns tell rows apart, and the others decide nothing then.
    first = table.field_names[:2]
    return stands_in_order(con, held, first, once=True, rows=rows) or stands_in_order(
        con, held, table.field_names, rows=rows
    )
