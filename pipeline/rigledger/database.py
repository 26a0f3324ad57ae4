"""Connections to the database with the settings that every part wants."""

from __future__ import annotations

import duckdb


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
