"""Header rows: which column of a file is which column of the contract."""

from __future__ import annotations

import difflib
import re
from typing import TYPE_CHECKING

from rigledger.errors import near_names
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rigledger.contract.model import Contract, Table
    from rigledger.intake.log import FindingLog


def match_header(
    header: Sequence[str], table: Table, log: FindingLog, *, file: str, row: int
) -> dict[str, int]:
    """Match a header with the columns of a table.

    Args:
        header: The cells of the header row.
        table: The wide table.
        log: Takes a finding for each cell that is no column, or one a second time.
        file: File or sheet.
        row: Physical row of the header.

    Returns:
        Column of the contract to place in the row, in the file's order.
    """
    places: dict[str, int] = {}
    for place, cell in enumerate(header):
        shown = excerpt(cell)
        if cell in places:
            log.add(
                "duplicate_column",
                f"the header names {cell!r} twice",
                file=file,
                row=row,
                column=shown,
            )
        elif cell in table.field_names:
            places[cell] = place
        elif cell.strip():
            _unknown(cell, table, log, file=file, row=row)
    return places


def _unknown(cell: str, table: Table, log: FindingLog, *, file: str, row: int) -> None:
    rule = _rule_for(cell, table, log.contract)
    step = near_names(cell, table.field_names) if rule == "misspelt_column" else None
    if rule == "unknown_metric":
        step = near_names(cell, log.contract.metrics)
    reason = f"{excerpt(cell)!r} is no column of {table.name}"
    log.add(rule, reason, file=file, row=row, column=excerpt(cell), next_step=step)


def _rule_for(cell: str, table: Table, contract: Contract) -> str:
    """Tell a slip of the pen from a metric we don't know and from a column of the tester's own."""
    plain = re.sub(r"[^a-z0-9]+", "_", cell.lower()).strip("_")
    if plain in table.field_names or difflib.get_close_matches(plain, table.field_names, 1, 0.8):
        return "misspelt_column"
    units = {unit.unit for unit in contract.units.values()}
    if table.metric_columns and plain.rsplit("_", 1)[-1] in units:
        return "unknown_metric"
    return "unknown_column"


def missing_columns(
    table: Table, columns: Iterable[str], log: FindingLog, *, file: str, row: int | None
) -> tuple[str, ...]:
    """Report the required columns that neither the file nor result-set.toml has."""
    held = set(columns)
    missing = tuple(
        field.name for field in table.fields if field.required and field.name not in held
    )
    for name in missing:
        reason = f"the required column {name} is missing: {table.field(name).description}"
        log.add("missing_column", reason, file=file, row=row, column=name)
    return missing


def known_names(header: Sequence[str], table: Table) -> int:
    """Count the cells of a row that are columns of a table."""
    return len(set(header) & set(table.field_names))
