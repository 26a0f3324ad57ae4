"""One look at a typed table where it is comes to the same verdict as pandera's at each row."""

from __future__ import annotations

from dataclasses import replace
from datetime import date, datetime
from typing import Any

import duckdb
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger import ordered, typed_check
from rigledger.contract import Field, Table
from rigledger.contract.frame_conditions import TYPES
from rigledger.contract.model import ForeignKey
from rigledger.contract.pandera_schemas import validate_frame
from rigledger.tabular import create_tables
from rigledger.typed_check import references_lead_somewhere, table_keeps_contract

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
        Field("said", "S", "S.", "string", required=True),
    ),
    primary_key=("name", "part"),
    unique_keys=(("word", "rate"),),
)
RIGHT: dict[str, Any] = {
    "name": "a", "part": 1, "word": "off", "rate": 7.0, "day": date(2026, 10, 5),
    "moment": datetime(2026, 10, 5, 9, 12), "flag": True, "said": "x",
}  # fmt: skip
# Mostly what is right, so that some tables are right as a whole.
CELLS: dict[str, list[Any]] = {
    "name": [*"abcdefg", "aa", "b", "c", "d", "", "Å", "a1", None],
    "part": [*range(1, 10), 1, 2, 3, 4, 0, 10, None],
    "word": ["on", "off", None, None, None, None, None, "On", ""],
    "rate": [0.0, 1.5, 2.5, 99.9, 100.0, None, None, None, -0.1, float("nan"), float("inf")],
    "day": [date(2026, 10, 5), date(2000, 1, 1), None, None, None, date(1999, 12, 31)],
    "moment": [datetime(2026, 10, 5, 9), None, None, None, datetime(1999, 12, 31)],
    "flag": [True, False, True, False, True, None],
    "said": ["x", "é", "x", "x", "x", "x", "\u00a0", "", None],
}


def held(table: Table, rows: list[dict[str, Any]]) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    create_tables(con, [table])
    for row in rows:
        cells = [row[field.name] for field in table.fields]
        con.execute(f"INSERT INTO held VALUES ({', '.join('?' * len(row))})", cells)
    return con


@given(
    st.lists(
        st.fixed_dictionaries({name: st.sampled_from(cells) for name, cells in CELLS.items()}),
        max_size=3,
    )
)
@settings.get_profile("costly")
def test_a_table_keeps_the_contract_exactly_where_no_row_has_a_problem(
    rows: list[dict[str, Any]],
) -> None:
    types = {field.name: TYPES[field.type] for field in TABLE.fields}
    frame = pl.DataFrame(rows, schema=types, orient="row")
    con, kept = held(TABLE, rows), not validate_frame(frame, TABLE)
    assert table_keeps_contract(con, TABLE) == kept
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(typed_check, "MOST_CELLS", 0)
        assert table_keeps_contract(con, TABLE) == kept
        patch.setattr(ordered, "WORTH_A_LOOK", 0)
        assert table_keeps_contract(con, TABLE) == kept  # as a long table is looked at


@pytest.mark.parametrize(("most", "worth"), [(0, 0), (0, 10_000), (20_000, 10_000)])
@pytest.mark.parametrize(
    ("change", "kept"),
    [
        ({}, True), ({"part": 1}, False), ({"rate": 100.1}, False), ({"flag": None}, False),
        ({"word": "off"}, False), ({"rate": None}, True), ({"name": "Å"}, False),
        ({"said": " "}, False), ({"part": None}, False), ({"day": date(1999, 1, 1)}, False),
    ],
)  # fmt: skip
def test_any_wrong_row_is_noticed(
    change: dict[str, Any],
    kept: bool,
    most: int,
    worth: int,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(typed_check, "MOST_CELLS", most)
    monkeypatch.setattr(ordered, "WORTH_A_LOOK", worth)
    second = RIGHT | {"part": 2, "word": "on"} | change
    assert table_keeps_contract(held(TABLE, [RIGHT, second]), TABLE) is kept


def test_columns_of_other_types_or_in_another_order_don_t_keep_it() -> None:
    con = held(TABLE, [RIGHT])
    turned = replace(TABLE, fields=TABLE.fields[::-1])
    assert not table_keeps_contract(con, turned)
    con.execute("ALTER TABLE held ALTER part TYPE INTEGER")
    assert not table_keeps_contract(con, TABLE)


@pytest.mark.parametrize(("most", "worth"), [(0, 0), (0, 10_000), (20_000, 10_000)])
@pytest.mark.parametrize(
    ("day", "kept"), [("2026-10-05", True), ("2026-10-06", False), ("1999-01-01", False)]
)
def test_a_reference_leads_to_a_row_where_its_table_is_named(
    day: str, kept: bool, most: int, worth: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(typed_check, "MOST_CELLS", most)
    monkeypatch.setattr(ordered, "WORTH_A_LOOK", worth)
    con = held(TABLE, [RIGHT, RIGHT | {"part": 2, "word": None, "day": None}])
    con.execute("CREATE TABLE days AS SELECT CAST(? AS DATE) AS day", [day])
    keyed = replace(TABLE, foreign_keys=(ForeignKey("day", "days", "day"),))
    days = Table("days", "source", "Days", "Days.", (TABLE.field("day"),))
    assert table_keeps_contract(con, keyed)
    assert table_keeps_contract(con, keyed, {"days": days}) is kept
    assert references_lead_somewhere(con, keyed, {"days": days}) is kept


@pytest.mark.parametrize(
    ("of_other", "value", "kept"),
    [
        (TABLE.field("name"), "b", True),
        (TABLE.field("name"), "x1", True),  # the other table's own check finds it
        (replace(TABLE.field("name"), pattern=None), "x1", False),
    ],
)
def test_what_is_asked_of_a_reference_s_words_is_asked_once(
    of_other: Field, value: str, kept: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(typed_check, "MOST_CELLS", 0)
    monkeypatch.setattr(ordered, "WORTH_A_LOOK", 0)
    con = held(TABLE, [RIGHT | {"name": value}])
    con.execute("CREATE TABLE names AS SELECT ? AS name", [value])
    keyed = replace(TABLE, foreign_keys=(ForeignKey("name", "names", "name"),))
    names = Table("names", "source", "Names", "Names.", (of_other,))
    assert table_keeps_contract(con, keyed, {"names": names}) is kept
