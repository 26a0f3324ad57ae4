"""Which values are said to be fine; that no other is, tests/test_typed_check.py says."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import Field
from rigledger.contract.plain_values import surely_fine_values

if TYPE_CHECKING:
    from collections.abc import Hashable

NAME = Field("name", "N", "N.", "string", required=True, pattern="[a-z]+", max_length=3)
SAID = Field("said", "S", "S.", "string", required=True)
WORD = Field("word", "W", "W.", "string", enum=("on", "off"))
PART = Field("part", "P", "P.", "integer", required=True, minimum=1)
RATE = Field("rate", "R", "R.", "number", maximum=100)
DAY = Field("day", "D", "D.", "date", minimum="2000-01-01", maximum="2100-01-01")
MOMENT = Field("moment", "M", "M.", "datetime", minimum="2000-01-01T00:00:00Z")
FLAG = Field("flag", "F", "F.", "boolean", required=True)


@pytest.mark.parametrize(
    ("field", "values", "fine"),
    [
        (NAME, ["a", "abc", "a"], True), (NAME, ["abcd"], False), (NAME, ["A"], False),
        (NAME, ["a", None], False), (NAME, [], True),
        (SAID, ["x y"], True), (SAID, [" "], False), (SAID, [""], False), (SAID, ["\u00e9"], False),
        (WORD, ["on", None], True), (WORD, ["On"], False), (WORD, [""], False),
        (PART, [1, 10**18], True), (PART, [0], False), (PART, [None], False),
        (RATE, [-1e300, 100.0, None], True), (RATE, [100.1], False),
        (RATE, [float("nan")], False), (RATE, [float("-inf")], False),
        (DAY, [date(2000, 1, 1), None], True), (DAY, [date(1999, 12, 31)], False),
        (MOMENT, [datetime(2000, 1, 1)], True), (MOMENT, [datetime(1999, 12, 31)], False),
        (FLAG, [True, False], True), (FLAG, [None], False),
    ],
)  # fmt: skip
def test_values_are_fine_where_that_is_certain(
    field: Field, values: list[Hashable], fine: bool
) -> None:
    assert surely_fine_values(field, values) is fine
