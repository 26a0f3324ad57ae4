"""Whether rows stand in an order already is told as sorting them would tell it."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import duckdb
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger import ordered, tabular
from rigledger.contract.model import Field, Table
from rigledger.database import connect
from rigledger.files import sha256_of

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

CELL = st.none() | st.sampled_from(["a", "b", "b ", "é", ""])
ROWS = st.lists(st.tuples(CELL, st.none() | st.sampled_from([-1, 0, 7])), max_size=4)
PAIRS = Table(
    "pairs", "derived", "Pairs", "Pairs.",
    (
        Field(name="word", title="", description="", type="string"),
        Field(name="number", title="", description="", type="integer"),
    ),
)  # fmt: skip


def pairs(rows: list[tuple[str | None, int | None]]) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    tabular.create_tables(con, [PAIRS])
    for row in rows:
        con.execute("INSERT INTO pairs VALUES (?, ?)", list(row))
    return con


@pytest.fixture
def each_looked_at() -> Iterator[None]:
    """Have short tables looked at too."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(ordered, "WORTH_A_LOOK", 0)
        yield


@pytest.mark.usefixtures("each_looked_at")
@settings(
    settings.get_profile("costly"), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(ROWS)
def test_rows_stand_in_order_where_sorting_them_leaves_them(
    rows: list[tuple[str | None, int | None]],
) -> None:
    con = pairs(rows)
    query = f"FROM pairs AS t ORDER BY {tabular.order_by(PAIRS)}"
    in_order = con.execute(query).fetchall()
    names = PAIRS.field_names
    assert ordered.stands_in_order(con, "pairs", names) == (in_order == rows)
    once = in_order == rows and len(set(rows)) == len(rows)
    assert ordered.stands_in_order(con, "pairs", names, once=True) == once


def test_a_short_table_is_not_looked_at() -> None:
    assert not ordered.stands_in_order(pairs([("a", 1)]), "pairs", ["word"])
    assert not ordered.published_order(pairs([("a", 1)]), PAIRS)


@pytest.mark.parametrize("threads", [1, 2])
def test_a_long_table_has_the_same_bytes_whether_its_rows_stood_in_order(
    tmp_path: Path, threads: int
) -> None:
    con = connect(threads=threads)
    con.execute(
        "CREATE TABLE pairs AS SELECT 'w' || lpad(i::VARCHAR, 7, '0') AS word, i AS number"
        " FROM range(300000) AS t(i) ORDER BY i"
    )
    con.execute("CREATE TABLE turned AS FROM pairs ORDER BY number DESC")
    keyed = replace(PAIRS, primary_key=("word",))
    assert ordered.published_order(con, keyed)
    assert not ordered.published_order(con, keyed, "turned")
    for relation in ("pairs", "turned"):
        tabular.write_csv(con, keyed, tmp_path / f"{relation}.csv", relation)
        tabular.write_parquet(con, keyed, tmp_path / f"{relation}.parquet", relation)
    for ending in ("csv", "parquet"):
        files = [tmp_path / f"{name}.{ending}" for name in ("pairs", "turned")]
        assert sha256_of(files[0]) == sha256_of(files[1])
