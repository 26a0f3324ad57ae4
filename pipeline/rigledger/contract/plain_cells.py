"""Says of a text cell that nothing is wrong with it, where that is certain without the database.

To prepare a query over many columns, each looked at in its own way, takes the database longer than
it takes to look at a few hundred cells here. What a cell has to be stands in
`rigledger.contract.cells`; here it is only ever said that a cell is fine, never that it isn't: that
is for the compiled checks.
"""

from __future__ import annotations

import datetime as dt
import re
import sys
from functools import cache
from typing import TYPE_CHECKING

from rigledger.contract.cells import spelling
from rigledger.contract.plain_values import is_plain, text_tests

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigledger.contract.model import Field

_DIGITS = 18  # of a whole number that has 64 bits in any case
_DAY = 10  # characters


@cache
def surely_fine(field: Field, *, local_times: bool) -> Callable[[str | None], bool]:
    """Give the test of a column's cells: where it is true, nothing is wrong with the cell.

    It is false of every cell with which something is wrong, and of some others: of all that have
    other characters than the printable ones of ASCII, of which every program thinks alike.

    Args:
        field: The column.
        local_times: Whether a datetime may leave its offset out.
    """
    tests = [*_spelt(field, local_times=local_times), *_within(field), *text_tests(field)]

    def fine(cell: str | None) -> bool:
        if not cell:
            return not field.required
        return is_plain(cell) and all(test(cell) for test in tests)

    return fine


def _spelt(field: Field, *, local_times: bool) -> list[Callable[[str], object]]:
    if field.type == "string":
        return []
    if field.type == "boolean":
        return [lambda cell: cell in {"true", "false"}]
    return [re.compile(spelling(field, local_times=local_times)).fullmatch]


def _within(field: Field) -> list[Callable[[str], object]]:
    lowest, highest = field.minimum, field.maximum
    if field.type == "integer":
        least = -sys.maxsize if lowest is None else int(lowest)
        most = sys.maxsize if highest is None else int(highest)
        return [lambda cell: len(cell) <= _DIGITS and least <= int(cell) <= most]
    if field.type == "number":
        bounds = (-sys.float_info.max, sys.float_info.max)
        low = bounds[0] if lowest is None else float(lowest)
        high = bounds[1] if highest is None else float(highest)
        return [lambda cell: low <= float(cell) <= high]
    if field.type in {"date", "datetime"}:
        # A time is less than a day from its date's beginning, and its offset less than another.
        aside = 2 if field.type == "datetime" else 0
        first = dt.date.min.toordinal() if lowest is None else _day(str(lowest)) + aside
        last = dt.date.max.toordinal() if highest is None else _day(str(highest)) - aside
        return [lambda cell: first <= _day(cell) <= last]
    return []


def _day(cell: str) -> int:
    """Give the day as a number; below all that there are where the calendar hasn't got it."""
    try:
        return dt.date.fromisoformat(cell[:_DAY]).toordinal()
    except ValueError:
        return 0
