"""Two tables are compared as a release prints them, cell by cell."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.spark.compare import Compared, compare_tables

if TYPE_CHECKING:
    from rigledger.contract import Contract, Table

ROWS = """
values
    ('c', 'average_fps', 'p', 0.1, 'fitted', '1', 3),
    ('c', 'average_fps', 'q', 2, 'fitted', '1', 3)
"""


@pytest.fixture
def table(contract: Contract) -> Table:
    return contract.table("derived", "spread_models")


def held(table: Table, rows: str) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    names = ", ".join(table.field_names)
    con.execute(f"create table {table.name} as select * from ({rows}) as t ({names})")
    return con


def test_the_same_rows_in_another_order_differ_in_nothing(table: Table) -> None:
    other = f"select * from ({ROWS}) order by 3 desc"

    found = compare_tables(held(table, ROWS), held(table, other), table)

    assert found == Compared("spread_models", rows=2, cells=14, differing=0)


def test_the_last_digit_of_a_number_counts(table: Table) -> None:
    other = ROWS.replace("0.1", "0.1::double + 1.4e-17")

    found = compare_tables(held(table, ROWS), held(table, other), table)

    assert found == Compared(
        "spread_models",
        rows=2,
        cells=14,
        differing=1,
        examples=("c, average_fps, p: value is '0.1' and '0.10000000000000002'",),
    )


def test_a_blank_differs_from_any_value(table: Table) -> None:
    other = ROWS.replace("0.1", "null")

    found = compare_tables(held(table, ROWS), held(table, other), table)

    assert found.differing == 1
    assert found.examples == ("c, average_fps, p: value is '0.1' and None",)


def test_every_cell_of_a_row_that_one_side_lacks_differs(table: Table) -> None:
    other = f"select * from ({ROWS}) limit 1"

    found = compare_tables(held(table, ROWS), held(table, other), table)

    assert (found.rows, found.cells, found.differing) == (2, 14, 7)


def test_a_row_that_is_there_twice_is_one_too_many(table: Table) -> None:
    other = f"select * from ({ROWS}) union all select * from ({ROWS})"

    found = compare_tables(held(table, ROWS), held(table, other), table)

    assert (found.rows, found.cells, found.differing) == (4, 28, 14)
