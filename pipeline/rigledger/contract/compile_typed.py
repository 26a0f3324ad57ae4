"""Compiles the contract to DuckDB queries over typed tables: those that were made here, not read.

Each gives a row where something is wrong, and none otherwise; saying what is left to the checks of
the same cells as text (`compile_sql`) or as a frame (`pandera_schemas`).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract import cells
from rigledger.contract.sql_text import identifier

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rigledger.contract.model import Field, ForeignKey


def compile_wrong_values(fields: Iterable[Field], relation: str) -> str:
    """Compile a query that gives a row where any value of a typed table breaks the contract.

    Args:
        fields: The columns to look at.
        relation: Name of the typed relation, or a parenthesised query.
    """
    fine = "\n  and ".join(["true", *(cells.fine_value(field) for field in fields)])
    return f"select 1 from {relation} where not (\n  {fine}\n) limit 1"


def compile_repeated_key(key: Sequence[str], relation: str, *, blanks: bool) -> str:
    """Compile a query that gives a row where two rows of a typed table have one key.

    Args:
        key: Columns of the key.
        relation: Name of the typed relation, or a parenthesised query.
        blanks: Whether a key with some blank cells counts: in a primary key it does, in a unique
            key not.
    """
    names = [identifier(name) for name in key]
    filled = (" or " if blanks else " and ").join(f"{name} is not null" for name in names)
    return (
        f"select 1 from {relation} where {filled}"
        f" group by {', '.join(names)} having count(*) > 1 limit 1"
    )


def compile_unknown_reference(key: ForeignKey, relation: str, referred: str) -> str:
    """Compile a query that gives a row where a foreign key of a typed table leads nowhere.

    Args:
        key: The foreign key.
        relation: Name of the typed relation, or a parenthesised query.
        referred: The same of the table that it leads to.
    """
    column = identifier(key.field)
    return (
        f"select 1 from (select {column} as value from {relation} where {column} is not null)"
        f" anti join (select {identifier(key.reference)} as value from {referred}) using (value)"
        " limit 1"
    )
