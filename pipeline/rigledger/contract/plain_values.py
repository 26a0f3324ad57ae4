"""Says of a column's typed values that nothing is wrong with them, where that is certain at once.

To prepare a query over many columns takes the database longer than it takes to look at a few
hundred rows here. It is only ever said that values are fine, never that they aren't: that is for
the compiled checks (`rigledger.contract.compile_typed`).
"""

from __future__ import annotations

import re
import sys
from datetime import date, datetime
from functools import cache
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable, Mapping, Sequence

    from rigledger.contract.model import Field, Table


def surely_fine_values(field: Field, values: Iterable[Hashable]) -> bool:
    """Whether nothing is wrong with a column's values, for certain.

    Args:
        field: The column.
        values: Its values as the database gives them for the column's type; None for no value.

    Returns:
        False where a value breaks the contract, and for some that don't: for texts with other
        characters than the printable ones of ASCII, of which every program thinks alike.
    """
    different = set(values)
    if None in different:
        different.remove(None)
        if field.required:
            return False
    return all(map(_test_of(field), different))


def no_key_twice(
    table: Table,
    columns: Mapping[str, Sequence[Hashable]],
    blanks: frozenset[Hashable] = frozenset({None}),
) -> bool:
    """Whether no two rows of a table have one key; of a unique key, those with a blank don't count.

    Args:
        table: The table; a key of which a column isn't given is not looked at.
        columns: Its values by column.
        blanks: What stands where there is no value.
    """
    for key in (table.primary_key, *table.unique_keys):
        if key and columns.keys() >= set(key):
            keys = list(zip(*(columns[name] for name in key), strict=True))
            if key != table.primary_key:
                keys = [held for held in keys if blanks.isdisjoint(held)]
            if len(set(keys)) < len(keys):
                return False
    return True


@cache
def _test_of(field: Field) -> Callable[[Any], object]:
    """Give the test of one value that is there."""
    if field.type == "string":
        return _text_test(field)
    if field.type == "boolean":
        return lambda value: isinstance(value, bool)
    low, high = _bound(field, field.minimum), _bound(field, field.maximum)
    most = sys.float_info.max
    if field.type == "number":
        low, high = -most if low is None else low, most if high is None else high
    kind = {"integer": int, "number": float, "date": date, "datetime": datetime}[field.type]
    # NaN is between no two numbers; a day out of Python's calendar is no date of Python's.
    return lambda value: (
        isinstance(value, kind)
        and (low is None or low <= value)
        and (high is None or value <= high)
    )


def _bound(field: Field, bound: float | str | None) -> Any:  # noqa: ANN401 - of the column's type
    if not isinstance(bound, str):
        return bound
    if field.type == "date":
        return date.fromisoformat(bound)
    return datetime.fromisoformat(bound).replace(tzinfo=None)


def _text_test(field: Field) -> Callable[[str], object]:
    tests = text_tests(field)
    return lambda value: is_plain(value) and all(test(value) for test in tests)


def is_plain(text: str) -> bool:
    """Whether a text is of printable characters of ASCII, of which every program thinks alike."""
    return text.isascii() and text.isprintable()


def text_tests(field: Field) -> list[Callable[[str], object]]:
    """Give what a column asks of a plain text that stands in it, each true where it is met."""
    words, longest = frozenset(field.enum), field.max_length
    tests: list[Callable[[str], object]] = []
    if field.pattern is not None:
        tests.append(re.compile(field.pattern).fullmatch)
    if longest is not None:
        tests.append(lambda value: len(value) <= longest)
    if words:
        tests.append(words.__contains__)
    elif field.required and field.type == "string":
        tests.append(lambda value: value[:1] > " ")
    return tests
