"""Checks of cells and keys, compiled from the contract, as findings one can act on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.compile_sql import compile_checks
from rigledger.intake.lost_rows import lost_rows
from rigledger.intake.text import excerpt
from rigledger.intake.value_words import words

if TYPE_CHECKING:
    from collections.abc import Iterable

    import duckdb

    from rigledger.contract.model import Table
    from rigledger.intake.found import Found
    from rigledger.intake.log import FindingLog
    from rigledger.intake.lost_rows import Violation
    from rigledger.intake.readset import TextSet

_SWAP = str.maketrans(",.", ".,")


def check_values(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    table: Table,
    found: Found,
    log: FindingLog,
) -> list[int]:
    """Run the compiled checks of one table.

    Args:
        con: The database.
        held: The set as text.
        table: The wide table.
        found: Takes the cells that can't be used; cells that reading has found fault with get no
            further finding.
        log: Takes a finding for every violation.

    Returns:
        The rows that are no rows of the table at all: repeated headings, sums, notes.
    """
    query = compile_checks(
        table,
        relation=f"intake.text_{table.name}",
        references=references(held, table, found),
        columns=held.present[table.name],
    )
    violations = [
        item
        for item in con.execute(query).fetchall()
        if not found.stands_at(table.name, item[1], item[2])
    ]
    lost = lost_rows(violations, held.tables[table.name], table, log)
    kept = [item for item in violations if item[1] not in lost]
    for item in kept:
        _add(con, item, held, table, log)
    _note(kept, table.name, found)
    return lost


def references(held: TextSet, table: Table, found: Found) -> dict[str, str]:
    """Give the text relations that a table's foreign keys can be looked up in.

    A table that could not be read whole, or whose own names are in doubt, would make every row
    that refers to it wrong.
    """
    return {
        key.table: f"intake.text_{key.table}"
        for key in table.foreign_keys
        if unusable_reference(held, key.table, key.reference, found) is None
    }


def unusable_reference(held: TextSet, table: str, column: str, found: Found) -> str | None:
    """Say why a table can't be referred to; None where it can."""
    source = held.tables.get(table)
    if source is None:
        return f"the table {table} could not be read"
    if source.rows == 0:
        return f"the table {table} has no rows"
    if not source.whole:
        return f"rows of {table} could not be read"
    if column not in held.present[table]:
        return f"the table {table} has no column {column}"
    return f"{table}.{column} can't be used" if found.unusable(table, column) else None


def _add(
    con: duckdb.DuckDBPyConnection,
    violation: Violation,
    held: TextSet,
    table: Table,
    log: FindingLog,
) -> None:
    rule, row, column, value = violation
    source = held.tables[table.name]
    swapped = value and _swapped(source.decimal, table, column)
    reason, step = words(rule, column, value, table, con)
    log.add(
        rule,
        reason,
        file=source.file,
        row=held.manifest.lines.get(f"set.{column}") if table.name == "set" else row,
        column=column,
        value=excerpt(value.translate(_SWAP) if value and swapped else value),
        next_step=step,
    )


def _swapped(decimal: str, table: Table, column: str) -> bool:
    return (
        decimal == ","
        and column in table.field_names
        and table.field(column).type in {"integer", "number"}
    )


def _note(violations: Iterable[Violation], table: str, found: Found) -> None:
    """Note the cells; a run that is there twice is still a run, so its keys can be used."""
    cells: dict[str, list[tuple[int, str]]] = {}
    for rule, row, column, _ in violations:
        cells.setdefault(rule, []).extend((row, name) for name in column.split(", "))
    for rule, places in cells.items():
        found.add(rule, table, places)
        if rule != "duplicate_key" or table != "runs":
            found.spoil(table, places)
