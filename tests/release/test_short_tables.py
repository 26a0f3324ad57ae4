"""Where a short table of a release is surely fine, the compiled checks find nothing either."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.contract import Field, Table
from rigledger.contract.model import ForeignKey
from rigledger.database import connect, plan_plainly
from rigledger.release import short_tables
from rigledger.release.published import Published
from rigledger.release.reload import _checked
from rigledger.release.short_tables import ShortTables
from rigledger.tabular import type_text

if TYPE_CHECKING:
    import duckdb

TABLE = Table(
    "held",
    "source",
    "Held",
    "Held.",
    (
        Field("name", "N", "N.", "string", required=True, pattern="[a-z]+"),
        Field("part", "P", "P.", "integer", minimum=0, maximum=9),
        Field("rate", "R", "R.", "number", minimum=0, maximum=100),
        Field("day", "D", "D.", "date", minimum="2000-01-01"),
        Field("moment", "M", "M.", "datetime"),
        Field("flag", "F", "F.", "boolean"),
        Field("said", "S", "S.", "string"),
    ),
    primary_key=("name",),
    foreign_keys=(ForeignKey("part", "others", "part"),),
)
OTHERS = Table("others", "source", "Others", "Others.", (TABLE.field("part"),))
RIGHT = {
    "name": "a", "part": "1", "rate": "0.5", "day": "2026-10-05", "moment": "2026-10-05T09:12:00Z",
    "flag": "true", "said": "x, y",
}  # fmt: skip
# What else may stand in a cell: right, misspelt, or against the contract.
CELLS: dict[str, list[str | None]] = {
    "name": ["b", "c", "a", "A", "", None, "\u00e9"],
    "part": ["2", None, "3", "01", "+1", "10", "1.0", "x"],
    "rate": ["0.0", "100.0", "1e-05", "-0.0", "0", "1.50", "100.1", "nan", "inf", None, "1e2"],
    "day": ["2000-01-01", None, "1999-12-31", "2026-2-5", "2026-02-30", "infinity"],
    "moment": [None, "2026-10-05T09:12:00.5Z", "2026-10-05 09:12:00", "2026-10-05T09:12:00"],
    "flag": ["false", None, "1", "True"],
    "said": [None, "", " ", "\u2013", "x"],
}


@cache
def database() -> duckdb.DuckDBPyConnection:
    """One for all: to open another takes longer than most of what is asked of it."""
    con = connect()
    plan_plainly(con)
    return con


def tables_of(rows: list[dict[str, str | None]]) -> ShortTables:
    con = database()
    for table, held in ((OTHERS, [{"part": "1"}, {"part": "2"}]), (TABLE, rows)):
        columns = ", ".join(f"{name} VARCHAR" for name in table.field_names)
        con.execute(f"CREATE OR REPLACE TABLE text_{table.name} (_row BIGINT, {columns})")
        for number, row in enumerate(held, start=2):
            cells: list[Any] = [number, *(row[name] for name in table.field_names)]
            con.execute(
                f"INSERT INTO text_{table.name} VALUES ({', '.join('?' * len(cells))})", cells
            )
        type_text(con, table, f"text_{table.name}")
    return ShortTables(con, {"held": len(rows), "others": 2})


ROWS = st.lists(
    st.fixed_dictionaries(
        {name: st.sampled_from([RIGHT[name], *cells]) for name, cells in CELLS.items()}
    ),
    max_size=2,
)


@given(ROWS)
@settings.get_profile("costly")
def test_what_is_surely_fine_is_fine(rows: list[dict[str, str | None]]) -> None:
    tables = tables_of([RIGHT | {"name": "z"}, *rows])
    found = _checked(tables.con, Published(TABLE, "data"), tables.rows)
    assert not (tables.surely_fine(TABLE) and found)


FINE = {
    "name": {"b", "c"}, "part": {"2", None}, "rate": {"0.0", "100.0", "1e-05", None},
    "day": {"2000-01-01", None}, "moment": {None}, "flag": {"false", None},
    "said": {None, "x", " "},
}  # fmt: skip


@pytest.mark.parametrize(
    ("column", "cell"), [(name, cell) for name, cells in CELLS.items() for cell in cells]
)
def test_each_cell_is_surely_fine_where_it_is(column: str, cell: str | None) -> None:
    tables = tables_of([RIGHT, RIGHT | {"name": "z"} | {column: cell}])
    found = _checked(tables.con, Published(TABLE, "data"), tables.rows)
    fine = cell in FINE[column]
    # Of a text that isn't ASCII nothing is certain.
    assert (tables.surely_fine(TABLE), found == []) == (fine, fine or cell == "\u2013")


def test_a_reference_to_a_table_that_is_not_there_is_not_looked_at() -> None:
    tables = tables_of([RIGHT | {"part": "3"}])
    assert not tables.surely_fine(TABLE)
    assert ShortTables(tables.con, {"held": 1}).surely_fine(TABLE)


def test_a_long_table_is_left_to_the_database(monkeypatch: pytest.MonkeyPatch) -> None:
    tables = tables_of([RIGHT])
    assert tables.surely_fine(TABLE)
    monkeypatch.setattr(short_tables, "MOST_CELLS", 6)
    assert not tables.surely_fine(TABLE)


@given(st.floats(allow_nan=False, allow_infinity=False))
def test_numbers_are_spelt_as_the_database_spells_them(value: float) -> None:
    ((text,),) = database().execute("SELECT CAST(? AS VARCHAR)", [value]).fetchall()
    assert repr(value) == text
