"""Text that a spreadsheet would run: recognised, and kept with an apostrophe in front."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract.model import Table

_STARTS = ("=", "+", "-", "@", "\t", "\r")
_NUMBER = re.compile(r"[-+]?[0-9]+([.,][0-9]+)?([eE][-+]?[0-9]+)?")
_SQL_STARTS = "('=', '+', '-', '@', chr(9), chr(13))"
_SQL_NUMBER = "[-+]?[0-9]+([.][0-9]+)?"


def neutral(text: str) -> str:
    """Give a text that no spreadsheet runs; numbers such as -3.1 stay as they are."""
    if text.startswith(_STARTS) and not _NUMBER.fullmatch(text):
        return f"'{text}"
    return text


def neutralise(con: duckdb.DuckDBPyConnection, table: Table) -> None:
    """Put an apostrophe before every formula in the free texts of ``handed.<table>``."""
    columns = [
        identifier(field.name)
        for field in table.fields
        if field.type == "string" and field.pattern is None and not field.enum
    ]
    if not columns:
        return
    name = f"handed.{identifier(table.name)}"
    found = ", ".join(f"coalesce(bool_or({_is_formula(column)}), false)" for column in columns)
    (held,) = con.execute(f"SELECT {found} FROM {name}").fetchall()
    for column, has_formulas in zip(columns, held, strict=True):
        if has_formulas:
            con.execute(
                f"UPDATE {name} SET {column} = '''' || {column} WHERE {_is_formula(column)}"
            )


def _is_formula(column: str) -> str:
    """Compile what is true of a text that a spreadsheet would run."""
    return f"{column}[1] IN {_SQL_STARTS} AND NOT regexp_full_match({column}, '{_SQL_NUMBER}')"
