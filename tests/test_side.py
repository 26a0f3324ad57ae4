"""Work beside other work: done on a thread of its own where that is wanted, at once elsewhere."""

from __future__ import annotations

import threading
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.side import beside

if TYPE_CHECKING:
    from collections.abc import Iterator


@pytest.fixture
def con() -> Iterator[duckdb.DuckDBPyConnection]:
    with duckdb.connect(config={"threads": 1}) as opened:
        yield opened


def make(con: duckdb.DuckDBPyConnection) -> int:
    con.execute("CREATE TABLE made AS SELECT 1 AS one")
    return threading.get_ident()


def test_short_work_is_done_at_once(con: duckdb.DuckDBPyConnection) -> None:
    with beside(con, wanted=False) as side:
        begun = side.begin(make)
        assert con.execute("SELECT one FROM made").fetchall() == [(1,)]
        assert begun.result() == threading.get_ident()


def test_long_work_is_done_on_another_thread(con: duckdb.DuckDBPyConnection) -> None:
    with beside(con, wanted=True) as side:
        assert side.begin(make).result() != threading.get_ident()
        assert con.execute("SELECT one FROM made").fetchall() == [(1,)]


def test_what_is_not_waited_for_is_done_before_the_side_is_closed(
    con: duckdb.DuckDBPyConnection,
) -> None:
    with beside(con, wanted=True) as side:
        begun = [side.begin(make)]
    assert begun[0].done()
    assert con.execute("SELECT one FROM made").fetchall() == [(1,)]


@pytest.mark.parametrize("wanted", [False, True])
def test_what_went_wrong_is_said_to_who_waits(
    con: duckdb.DuckDBPyConnection, *, wanted: bool
) -> None:
    with beside(con, wanted=wanted) as side, pytest.raises(duckdb.CatalogException):
        side.begin(lambda cursor: cursor.execute("FROM nothing").fetchall()).result()
