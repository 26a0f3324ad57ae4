"""Rows of the audit's queries as dictionaries."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

SQL_FOLDER = Path(__file__).parent / "sql"


def rows(
    con: duckdb.DuckDBPyConnection, name: str, values: Mapping[str, Any] | None = None
) -> list[dict[str, Any]]:
    """Run ``sql/<name>.sql`` and give its rows.

    Args:
        con: A connection with the tables that the query names.
        name: The query.
        values: Values of its parameters.
    """
    text = (SQL_FOLDER / f"{name}.sql").read_text(encoding="utf-8")
    cursor = con.execute(text, values) if values else con.execute(text)
    names = [column[0] for column in cursor.description or ()]
    return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
