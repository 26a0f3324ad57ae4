"""What brought each change of a release, and how current comparisons moved since the one before."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import literal

if TYPE_CHECKING:
    import duckdb

CURRENT = "current_comparisons"
"""Name in ``changes`` of comparisons without stack and build: the current one of each rig."""

_SQL = Path(__file__).parent / "sql" / "changes"


def find_causes(con: duckdb.DuckDBPyConnection) -> None:
    """Fill the column ``because`` of ``changes``.

    Args:
        con: Connection with ``changes``, ``sets``, ``sessions`` and ``corrections`` as they are
            now, and ``_sets_before`` and ``_sessions_before`` as text.
    """
    query = (_SQL / "causes.sql").read_text(encoding="utf-8")
    con.execute(f"CREATE OR REPLACE TABLE changes AS {query}")


def find_moves(con: duckdb.DuckDBPyConnection) -> None:
    """Add rows of `CURRENT` to ``changes``: directions, sizes and stacks that turned, with numbers.

    Args:
        con: Connection with ``changes``, ``comparisons``, and ``_comparisons_before`` as text.
    """
    query = (_SQL / "moves.sql").read_text(encoding="utf-8")
    con.execute(f"INSERT INTO changes SELECT {literal(CURRENT)}, * FROM ({query})")
