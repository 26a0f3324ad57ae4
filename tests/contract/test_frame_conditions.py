"""One look at a whole frame comes to the same verdict as pandera's look at each row."""

from __future__ import annotations

from datetime import date, datetime
from typing import Any

import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.contract import Field, Table
from rigledger.contract.frame_conditions import TYPES, keeps_contract
from rigledger.contract.pandera_schemas import validate_frame

TABLE = Table(
    "held",
    "derived",
    "Held",
    "Held.",
    (
        Field("name", "N", "N.", "string", required=True, pattern="[a-z]|aa", max_length=2),
        Field("part", "P", "P.", "integer", required=True, minimum=1, maximum=9),
        Field("word", "W", "W.", "string", enum=("on", "off")),
        Field("rate", "R", "R.", "number", minimum=0, maximum=100),
        Field("day", "D", "D.", "date", minimum="2000-01-01", maximum="2100-01-01"),
        Field("moment", "M", "M.", "datetime", minimum="2000-01-01T00:00:00Z"),
        Field("flag", "F", "F.", "boolean", required=True),
    ),
    primary_key=("name", "part"),
    unique_keys=(("word", "rate"),),
)
# Mostly what is right, so that some frames are right as a whole.
CELLS: dict[str, list[Any]] = {
    "name": [*"abcdefg", "aa", "b", "c", "d", "", "Å", "a1", None],
    "part": [*range(1, 10), 1, 2, 3, 4, 0, 10, None],
    "word": ["on", "off", None, None, None, None, None, "On"],
    "rate": [0.0, 1.5, 2.5, 99.9, 100.0, None, None, None, -0.1, float("nan"), float("inf")],
    "day": [date(2026, 10, 5), date(2000, 1, 1), None, None, None, date(1999, 12, 31)],
    "moment": [datetime(2026, 10, 5, 9), None, None, None, datetime(1999, 12, 31)],
    "flag": [True, False, True, False, True, None],
}


def frame_of(rows: list[dict[str, Any]]) -> pl.DataFrame:
    types = {field.name: TYPES[field.type] for field in TABLE.fields}
    return pl.DataFrame(rows, schema=types, orient="row")


@given(
    st.lists(
        st.fixed_dictionaries({name: st.sampled_from(held) for name, held in CELLS.items()}),
        max_size=3,
    )
)
@settings(max_examples=60, deadline=None)
def test_a_frame_keeps_the_contract_exactly_where_no_row_has_a_problem(
    rows: list[dict[str, Any]],
) -> None:
    frame = frame_of(rows)
    assert keeps_contract(frame, TABLE) == (not validate_frame(frame, TABLE))


@pytest.mark.parametrize(
    ("change", "kept"),
    [
        ({}, True), ({"name": "a", "part": 1}, False), ({"rate": 100.1}, False),
        ({"flag": None}, False), ({"word": "off", "rate": 7.0}, False), ({"rate": None}, True),
    ],
)  # fmt: skip
def test_any_wrong_row_is_noticed(change: dict[str, Any], kept: bool) -> None:
    first = {
        "name": "a", "part": 1, "word": "off", "rate": 7.0, "day": date(2026, 10, 5),
        "moment": datetime(2026, 10, 5, 9, 12), "flag": True,
    }  # fmt: skip
    second = first | {"part": 2, "word": "on"} | change
    assert keeps_contract(frame_of([first, second]), TABLE) is kept


def test_columns_of_other_types_or_in_another_order_don_t_keep_it() -> None:
    frame = frame_of([])
    assert keeps_contract(frame, TABLE)
    assert not keeps_contract(frame.cast({"part": pl.Int32}), TABLE)
    assert not keeps_contract(frame.select(reversed(frame.columns)), TABLE)
