"""Text views of the handed-in tables, with constants and units filled in."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text
from rigledger.contract.units import convert, lookup_unit, near_units

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract.model import Field, Table
    from rigledger.intake.log import FindingLog
    from rigledger.intake.manifest import Manifest
    from rigledger.intake.texttable import TextTable

_NUMBERS = {"integer", "number"}
_LOCAL = "[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}([.][0-9]{1,6})?"


def make_view(
    con: duckdb.DuckDBPyConnection,
    table: Table,
    held: TextTable,
    manifest: Manifest,
    log: FindingLog,
) -> tuple[str, ...]:
    """Create ``intake.text_<table>`` with ``_row`` and every column of the table.

    Args:
        con: The database, with the raw table in it.
        table: The wide table.
        held: The table as read.
        manifest: Gives constants, units and the offset of times.
        log: Takes a finding for units and constants that can't be used.

    Returns:
        The columns that hold something: from the file or from a constant.
    """
    constants = _constants(table.name, manifest)
    by_workload = manifest.by_workload if table.name == "runs" else {}
    present = [*held.columns, *constants, *(key for part in by_workload.values() for key in part)]
    _refuse_twice(con, held, constants, manifest, log)
    factors = _unit_expressions(table, manifest, log)
    cells = [_cell(field, held, manifest, factors) for field in table.fields]
    con.execute(
        f"CREATE VIEW intake.{identifier('text_' + table.name)} AS SELECT _row,\n  "
        + ",\n  ".join(cells)
        + f"\nFROM {held.relation}"
    )
    columns = tuple(name for name in table.field_names if name in set(present))
    if "utc_offset" not in manifest.set:
        _refuse_local_times(con, table, held, columns, log)
    return columns


def _refuse_local_times(
    con: duckdb.DuckDBPyConnection,
    table: Table,
    held: TextTable,
    columns: tuple[str, ...],
    log: FindingLog,
) -> None:
    for name in columns:
        if table.field(name).type != "datetime":
            continue
        column = identifier(name)
        found = con.execute(
            f"SELECT _row, {column} FROM intake.{identifier('text_' + table.name)}"
            f" WHERE regexp_full_match({column}, '{_LOCAL}') ORDER BY _row"
        ).fetchall()
        for row, value in found:
            reason = f"{name} has no offset, and the set states none"
            log.add(
                "time_without_offset", reason, file=held.file, row=row, column=name, value=value
            )


def _constants(name: str, manifest: Manifest) -> dict[str, str]:
    return {"runs": manifest.all_runs, "sessions": manifest.all_sessions}.get(name, {})


def _cell(field: Field, held: TextTable, manifest: Manifest, factors: dict[str, str]) -> str:
    constants = _constants(held.name, manifest)
    by_workload = manifest.by_workload if held.name == "runs" else {}
    offset = manifest.set.get("utc_offset")
    name = identifier(field.name)
    cell = _own_cell(field, held) if field.name in held.columns else "CAST(NULL AS VARCHAR)"
    given = [
        (workload, part[field.name]) for workload, part in by_workload.items() if field.name in part
    ]
    constant = text(constants[field.name]) if field.name in constants else None
    if given and "workload" in held.columns:
        whens = " ".join(f"WHEN {text(workload)} THEN {text(value)}" for workload, value in given)
        cell = f"coalesce(nullif({cell}, ''), CASE workload {whens} END)"
    if constant:
        cell = f"coalesce(nullif({cell}, ''), {constant})"
    if field.type == "datetime" and offset and field.name in {*held.columns, *constants}:
        cell = (
            f"CASE WHEN regexp_full_match({cell}, '{_LOCAL}') THEN {cell} || {text(offset)} ELSE "
            f"{cell} END"
        )
    if field.name in factors:
        cell = factors[field.name].format(cell=cell)
    return f"{cell} AS {name}"


def _own_cell(field: Field, held: TextTable) -> str:
    name = identifier(field.name)
    if held.decimal == "," and field.type in _NUMBERS:
        return f"translate({name}, ',.', '.,')"
    return name


def _refuse_twice(
    con: duckdb.DuckDBPyConnection,
    held: TextTable,
    constants: dict[str, str],
    manifest: Manifest,
    log: FindingLog,
) -> None:
    for name in set(constants) & set(held.columns):
        found = con.execute(
            f"SELECT _row, {identifier(name)} FROM {held.relation} WHERE {identifier(name)} <> "
            f"{text(constants[name])}"
            " ORDER BY _row"
        ).fetchall()
        for row, value in found:
            reason = (
                f"{manifest.file} says {name} is {constants[name]!r} throughout, this row says "
                f"otherwise"
            )
            log.add("stated_twice", reason, file=held.file, row=row, column=name, value=value)


def _unit_expressions(table: Table, manifest: Manifest, log: FindingLog) -> dict[str, str]:
    """Give for each column in another unit the expression that converts it."""
    if table.name != "runs":
        return {}
    found = {}
    for name, stated in manifest.units.items():
        expression = _unit_expression(table.field(name), name, stated, manifest, log)
        if expression:
            found[name] = expression
    return found


def _unit_expression(
    field: Field, name: str, stated: str, manifest: Manifest, log: FindingLog
) -> str | None:
    unit = lookup_unit(stated, log.contract)
    place = f"units.{name}"
    row = manifest.lines.get(place)
    if unit is None:
        reason = f"{stated!r} is no unit of the list"
        step = near_units(stated, log.contract)
        log.add(
            "unknown_unit",
            reason,
            file=manifest.file,
            row=row,
            column=place,
            value=stated,
            next_step=step,
        )
        return None
    if unit.unit == field.unit or field.unit is None:
        return None
    try:
        one, two = (convert(value, unit.unit, field.unit) for value in (1.0, 2.0))
    except ValueError:
        reason = f"{name} is in {field.unit}, which can't be made from {unit.unit}"
        log.add("unknown_unit", reason, file=manifest.file, row=row, column=place, value=stated)
        return None
    number = "TRY_CAST({cell} AS DOUBLE)"
    made = f"{one!r} / {number}" if two < one else f"{number} * {one!r}"
    return f"CASE WHEN {number} > 0 THEN CAST({made} AS VARCHAR) ELSE {{cell}} END"
