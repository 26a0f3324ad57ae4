"""Connections to the database with the settings that every part wants."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import duckdb

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence


def connect(*, threads: int | None = None) -> duckdb.DuckDBPyConnection:
    """Open a database in memory.

    Its progress bar is off: it would be printed among what a command says, and break ``--json``.

    Args:
        threads: Threads to use; None for the database's own choice.
    """
    con = duckdb.connect()
    con.execute("SET enable_progress_bar = false")
    if threads is not None:
        con.execute(f"SET threads = {int(threads)}")
    return con


def read_columns(
    con: duckdb.DuckDBPyConnection, query: str, names: Sequence[str]
) -> dict[str, tuple[Any, ...]]:
    """Run a query and give its rows column by column; without rows, columns of no values.

    Args:
        con: The connection.
        query: The query.
        names: Names of its columns.
    """
    rows = con.execute(query).fetchall()
    columns = zip(*rows, strict=True) if rows else ((),) * len(names)
    return dict(zip(names, columns, strict=True))


def plan_plainly(con: duckdb.DuckDBPyConnection) -> None:
    """Have statements run as they are written from now on, because all tables are small.

    To look for the best plan takes longer then than any plan. Rows come out the same; files that
    are written meanwhile may have other bytes, as Parquet notes what the planner knows of a column.
    """
    con.execute("PRAGMA disable_optimizer")


@contextmanager
def planned_plainly(con: duckdb.DuckDBPyConnection, *, small: bool = True) -> Iterator[None]:
    """Have statements run as they are written for a while, where all tables are small.

    Args:
        con: The connection; afterwards it plans as it did before.
        small: Whether the tables are small; nothing changes where they aren't.
    """
    if not (small and plans(con)):
        yield
        return
    plan_plainly(con)
    try:
        yield
    finally:
        con.execute("PRAGMA enable_optimizer")


def plans(con: duckdb.DuckDBPyConnection) -> bool:
    """Whether a connection looks for the best plan of a statement."""
    found = con.execute("SELECT current_setting('enable_optimizer')").fetchone()
    return found is not None and bool(found[0])
