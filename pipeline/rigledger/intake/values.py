"""Checks of cells and keys, compiled from the contract, as findings one can act on."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.compile_sql import compile_checks
from rigledger.errors import near_names
from rigledger.intake.text import excerpt
from rigledger.intake.typed import references

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract.model import Field, Table
    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet

_SWAP = str.maketrans(",.", ".,")


def check_values(
    con: duckdb.DuckDBPyConnection, held: TextSet, table: Table, log: FindingLog
) -> dict[str, list[int]]:
    """Run the compiled checks of one table.

    Args:
        con: The database.
        held: The set as text.
        table: The wide table.
        log: Takes a finding for every violation.

    Returns:
        Column to the rows in which it can't be used.
    """
    source = held.tables[table.name]
    query = compile_checks(
        table,
        relation=f"intake.text_{table.name}",
        references=references(held),
        columns=held.present[table.name],
    )
    wrong: dict[str, list[int]] = {}
    for rule, row, column, value in con.execute(query).fetchall():
        for name in column.split(", "):
            wrong.setdefault(name, []).append(row)
        shown = (
            value.translate(_SWAP) if value and _swapped(source.decimal, table, column) else value
        )
        place = held.manifest.lines.get(f"set.{column}") if table.name == "set" else row
        reason, step = _words(rule, column, value, table, con)
        log.add(
            rule,
            reason,
            file=source.file,
            row=place,
            column=column,
            value=excerpt(shown),
            next_step=step,
        )
    return wrong


def _swapped(decimal: str, table: Table, column: str) -> bool:
    return (
        decimal == ","
        and column in table.field_names
        and table.field(column).type in {"integer", "number"}
    )


def _words(
    rule: str, column: str, value: str | None, table: Table, con: duckdb.DuckDBPyConnection
) -> tuple[str, str | None]:
    if rule == "duplicate_key":
        return f"an earlier row has the same {column}", None
    if rule == "unknown_reference":
        return _reference_words(column, value, table, con)
    field = table.field(column)
    if rule == "not_in_vocabulary":
        return f"{excerpt(value)!r} is no word of {column}", near_names(value or "", field.enum)
    if rule == "type_spelling":
        reason = f"{column} is {_kind(field)}, written like {field.example}"
        return reason, _spelling_step(value, field)
    length = len(value or "")
    reasons = {
        "required_missing": f"{column} is blank: {field.description}",
        "out_of_bounds": f"{column} allows {_bounds(field)}",
        "pattern_mismatch": f"{column} is written like {field.example}",
        "too_long": f"{column} allows {field.max_length} characters, here are {length}",
    }
    return reasons[rule], None


def _bounds(field: Field) -> str:
    unit = f" {field.unit}" if field.unit not in {None, "count", "dimensionless"} else ""
    return f"{field.minimum} to {field.maximum}{unit}"


def _kind(field: Field) -> str:
    kinds = {
        "integer": "a whole number",
        "number": "a number",
        "boolean": "true or false",
        "date": "a date",
        "datetime": "a time",
    }
    return kinds.get(field.type, "text")


def _spelling_step(value: str | None, field: Field) -> str | None:
    """Offer the spelling that was evidently meant."""
    stripped = (value or "").strip()
    if field.type in {"number", "integer"}:
        if stripped.count(",") == 1 and stripped.replace(",", "").lstrip("-").isdigit():
            comma = stripped.replace(",", ".")
            return (
                f"Write {comma}; if all numbers have a decimal comma, add to "
                f'result-set.toml:\n[files]\ndecimal = ","'
            )
        if stripped.lower() in {"nan", "n/a", "na", "-", "none", "null", "#n/a"}:
            return "Leave the cell blank where there is no value."
    if stripped != value and stripped:
        return f"Remove the spaces around {stripped!r}."
    return None


def _reference_words(
    column: str, value: str | None, table: Table, con: duckdb.DuckDBPyConnection
) -> tuple[str, str]:
    key = next(key for key in table.foreign_keys if key.field == column)
    legal = con.execute(
        f'SELECT DISTINCT "{key.reference}" FROM intake.text_{key.table} WHERE "{key.reference}" '
        f"<> '' LIMIT 500"
    ).fetchall()
    names = near_names(value or "", [name for (name,) in legal])
    return (
        f"{key.table} has no {key.reference} {excerpt(value)!r}",
        names or f"add the row to {key.table}",
    )
