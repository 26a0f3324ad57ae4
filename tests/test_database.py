from __future__ import annotations

import gc
from typing import TYPE_CHECKING

import pytest

from rigledger.database import connect, planned_plainly, read_columns
from rigledger.garbage import searched_later

if TYPE_CHECKING:
    import duckdb


def plans(con: duckdb.DuckDBPyConnection) -> bool:
    return con.execute("SELECT current_setting('enable_optimizer')").fetchall() == [(True,)]


def test_small_tables_are_read_as_statements_are_written_and_only_meanwhile() -> None:
    with connect() as con:
        with planned_plainly(con):
            assert not plans(con)
            with planned_plainly(con):
                assert not plans(con)
            assert not plans(con)
        assert plans(con)


def test_rows_are_read_column_by_column_and_columns_are_there_without_rows() -> None:
    query = "from (values (1, 'x'), (2, null)) held (a, b)"
    with connect() as con:
        assert read_columns(con, query, ("a", "b")) == {"a": (1, 2), "b": ("x", None)}
        assert read_columns(con, f"{query} where false", ("a", "b")) == {"a": (), "b": ()}


def test_large_tables_are_planned() -> None:
    with connect() as con, planned_plainly(con, small=False):
        assert plans(con)


def test_planning_comes_back_after_a_failure() -> None:
    with connect() as con:
        with pytest.raises(ZeroDivisionError), planned_plainly(con):
            raise ZeroDivisionError
        assert plans(con)


def test_garbage_is_searched_for_again_afterwards_also_after_a_failure() -> None:
    searching = []

    def fail() -> None:
        with searched_later():
            searching.append(gc.isenabled())
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert [*searching, gc.isenabled()] == [False, True]


def test_who_does_not_search_for_garbage_is_left_so() -> None:
    gc.disable()
    try:
        with searched_later():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
