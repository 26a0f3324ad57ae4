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
    for field in table.fields:
        if field.type != "string" or field.pattern is not None or field.enum:
            continue
        column = identifier(field.name)
        con.execute(
            f"UPDATE handed.{identifier(table.name)} SET {column} = '''' || {column}"
            f" WHERE {column}[1] IN {_SQL_STARTS}"
            f" AND NOT regexp_full_match({column}, '{_SQL_NUMBER}')"
        )
