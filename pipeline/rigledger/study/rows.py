"""Puts rows of Python values into typed DuckDB tables."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import duckdb


def insert_rows(
    con: duckdb.DuckDBPyConnection,
    table: str,
    rows: Sequence[Mapping[str, Any]],
    schema: str | None = None,
) -> None:
    """Append rows to a table; all have the keys of the first, which are columns of the table."""
    if not rows:
        return
    names = tuple(rows[0])
    place = ".".join(identifier(name) for name in (schema, table) if name is not None)
    described = con.execute(f"describe {place}").fetchall()
    types = {str(name): str(kind) for name, kind, *_ in described}
    columns = ", ".join(identifier(name) for name in names)
    # A list a column: one statement for each row takes fifty times as long.
    lists = ", ".join(f"unnest(cast(? as {types[name]}[]))" for name in names)
    con.execute(
        f"insert into {place} ({columns}) select {lists}",
        [[row[name] for row in rows] for name in names],
    )


def scalar(con: duckdb.DuckDBPyConnection, query: str, values: Sequence[Any] = ()) -> Any:  # noqa: ANN401
    """Give the single value that a query returns, None where it returns no row."""
    row = con.execute(query, list(values)).fetchone()
    return row[0] if row else None
