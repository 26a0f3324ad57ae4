"""Looks through a short table in the program: that nothing is wrong is seen soonest so.

Where that is not certain, those of the compiled checks of the contract are asked that may find
something; they alone say what is wrong.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.plain_cells import surely_fine
from rigledger.contract.plain_values import no_key_twice
from rigledger.contract.sql_text import identifier
from rigledger.database import read_columns

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import duckdb

    from rigledger.contract.compile_sql import Part
    from rigledger.contract.model import Table

SHORT = 1000
"""A table of fewer rows is looked through here."""

Cells = tuple[str | None, ...]
_BLANKS = frozenset({None, ""})


@dataclass(frozen=True, slots=True)
class Doubts:
    """Where a table may have something wrong.

    Attributes:
        columns: Columns that may have a wrong cell.
        parts: Which checks may find something.
    """

    columns: tuple[str, ...]
    parts: frozenset[Part]


def look_through(
    con: duckdb.DuckDBPyConnection,
    table: Table,
    relation: str,
    *,
    columns: Sequence[str],
    references: Mapping[str, str],
) -> Doubts:
    """Say which checks of a short table's cells, keys and references may find anything.

    Args:
        con: The database.
        table: The wide table.
        relation: Its text relation.
        columns: The columns that the relation has of the table.
        references: Text relations that hold the tables of the foreign keys, by table name.
    """
    held = _columns(con, relation, columns)
    local = table.group == "handed_in"
    doubtful = tuple(
        name
        for name, cells in held.items()
        if not all(map(surely_fine(table.field(name), local_times=local), dict.fromkeys(cells)))
    )
    known = all(
        _all_known(con, held[key.field], references[key.table], key.reference)
        for key in table.foreign_keys
        if key.table in references and key.field in held
    )
    seen: dict[Part, bool] = {
        "cells": bool(doubtful),
        "keys": not no_key_twice(table, held, _BLANKS),
        "references": not known,
    }
    return Doubts(doubtful, frozenset(part for part, doubt in seen.items() if doubt))


def _columns(
    con: duckdb.DuckDBPyConnection, relation: str, columns: Sequence[str]
) -> dict[str, Cells]:
    """Read a table column by column; without rows it has columns of no cells."""
    if not columns:
        return {}
    listed = ", ".join(map(identifier, columns))
    return read_columns(con, f"SELECT {listed} FROM {relation}", columns)


def _all_known(con: duckdb.DuckDBPyConnection, cells: Cells, referred: str, reference: str) -> bool:
    known = con.execute(f"SELECT CAST({identifier(reference)} AS VARCHAR) FROM {referred}")
    return {cell for cell in cells if cell} <= {word for (word,) in known.fetchall()}
