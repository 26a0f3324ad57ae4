"""Rows that are no rows of their table: a heading again, a line of units, a sum, a note."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rigledger.contract.model import Table
    from rigledger.intake.log import FindingLog
    from rigledger.intake.texttable import TextTable

Violation = tuple[str, int, str, str | None]
"""Rule, row, column and value, as the compiled checks give them."""

_FEWEST = 3


def lost_rows(
    violations: Iterable[Violation], source: TextTable, table: Table, log: FindingLog
) -> list[int]:
    """Find the rows in which so much is missing that they are something else, and name each once.

    A row is a heading again where three cells or more hold their own column's name; it is no row
    of the table where at least half of the required columns of the file, and three, are blank, and
    half of its key is blank or misspelt: a row with a sound key is one that is not filled in yet.

    Args:
        violations: What the checks of the table have found.
        source: The table as read.
        table: The table of the contract.
        log: Takes one finding for each such row, in place of one for each of its cells.

    Returns:
        The physical rows, in order.
    """
    if table.name == "set":
        return []
    by_row: dict[int, dict[str, tuple[str, str | None]]] = {}
    for rule, row, column, value in violations:
        by_row.setdefault(row, {})[column] = (rule, value)
    required = [name for name in source.columns if table.field(name).required]
    key = table.primary_key
    several = sorted(row for row, cells in by_row.items() if len(cells) >= _FEWEST)
    found = {row: _reason(by_row[row], required, key) for row in several}
    named = {row: reason for row, reason in found.items() if reason}
    for row, reason in named.items():
        value = next((held for _, held in by_row[row].values() if held), None)
        log.add("not_a_row", reason, file=source.file, row=row, value=excerpt(value))
    return list(named)


def _reason(
    cells: Mapping[str, tuple[str, str | None]], required: Sequence[str], key: Sequence[str]
) -> str | None:
    if sum(value == column for column, (_, value) in cells.items()) >= _FEWEST:
        return "the row repeats the names of the columns"
    blank = [name for name in required if cells.get(name, ("", None))[0] == "required_missing"]
    keyless = 2 * len(cells.keys() & set(key)) >= len(key)
    if len(blank) < max(_FEWEST, (len(required) + 1) // 2) or not keyless:
        return None
    few = ", ".join(blank[:_FEWEST])
    more = f" and {len(blank) - _FEWEST} more" if len(blank) > _FEWEST else ""
    return f"the row has no {few}{more}"
