"""Header rows: which column of a file is which column of the contract."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.intake.headings import meaning, plain_meaning
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rigledger.contract.model import Table
    from rigledger.intake.log import FindingLog


_MISSING = {
    "set": "Add {name} to the [set] part of result-set.toml.",
    "runs": "Add the column {name}, or give its value once in result-set.toml, under"
    " [same_for_all_runs].",
    "sessions": "Add the column {name}, or give its value once in result-set.toml, under"
    " [same_for_all_sessions].",
}


@dataclass(frozen=True, slots=True)
class Header:
    """A header row matched with a table.

    Attributes:
        places: Column of the contract to place in the row, in the file's order.
        meant: Columns that other headings of the row mean and don't name.
    """

    places: Mapping[str, int]
    meant: frozenset[str]


def match_header(
    header: Sequence[str], table: Table, log: FindingLog, *, file: str, row: int
) -> Header:
    """Match a header with the columns of a table.

    Args:
        header: The cells of the header row.
        table: The wide table.
        log: Takes a finding for each cell that is no column, or one a second time.
        file: File or sheet.
        row: Physical row of the header.

    Returns:
        The columns and their places, and what the other cells mean.
    """
    places: dict[str, int] = {}
    meant: set[str] = set()
    for place, cell in enumerate(header):
        if cell in places:
            reason = f"the header names {cell!r} twice"
            log.add("duplicate_column", reason, file=file, row=row, column=excerpt(cell))
            # One of the two may be another metric whose heading was copied.
            meant.update(name for name in log.contract.metrics if cell in log.contract.metrics)
        elif cell in table.field_names:
            places[cell] = place
    for cell in dict.fromkeys(header):
        if cell.strip() and cell not in places:
            found = meaning(cell, table, log.contract, places)
            meant.update(found.meant)
            reason, column = excerpt(found.reason) or "", excerpt(cell)
            step = found.next_step
            log.add(found.rule, reason, file=file, row=row, column=column, next_step=step)
    return Header(places, frozenset(meant - set(places)))


def missing_columns(
    table: Table,
    columns: Iterable[str],
    log: FindingLog,
    *,
    file: str,
    row: int | None,
    meant: frozenset[str] = frozenset(),
) -> tuple[str, ...]:
    """Report the required columns that neither the file nor result-set.toml has.

    One that a heading of the file means is named there already.
    """
    held = {*columns, *meant}
    missing = tuple(
        field.name for field in table.fields if field.required and field.name not in held
    )
    for name in missing:
        reason = f"the required column {name} is missing: {table.field(name).description}"
        step = _MISSING[table.name].format(name=name) if table.name in _MISSING else None
        log.add("missing_column", reason, file=file, row=row, column=name, next_step=step)
    return missing


def known_names(header: Sequence[str], table: Table) -> int:
    """Count the cells of a row that are columns of a table, in the contract's words or others."""
    exact = len(set(header) & set(table.field_names))
    others = (cell for cell in set(header) if cell.strip() and cell not in table.field_names)
    return exact + sum(len(cell) < 40 and plain_meaning(cell, table) is not None for cell in others)
