"""Spark and DuckDB give the same tables, to the last printed digit."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import duckdb
import pytest

pytest.importorskip("sqlglot", reason="the extra spark is not installed")
pytest.importorskip("pyspark", reason="the extra spark is not installed")

from rigledger.errors import MissingExtraError, StudyError
from rigledger.spark.build import build_tables_on_spark
from rigledger.spark.compare import Compared, compare_tables
from rigledger.spark.partitioned import Hub
from rigledger.spark.session import local_session, require_spark, sized
from rigledger.spark.translate import translated
from rigledger.tables.build import build_tables

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from pyspark.sql import SparkSession

    from rigledger.contract import Contract

TABLES = ("runs_wide", "run_metrics", "cells", "comparisons")


@contextmanager
def undone(con: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Take back what is done to a connection that others use, too."""
    con.execute("begin")
    yield
    con.execute("rollback")


@pytest.fixture
def spark(tmp_path: Path) -> Iterator[SparkSession]:
    try:
        require_spark()
    except MissingExtraError as error:
        pytest.skip(str(error))
    session = local_session(tmp_path / "spark")
    sized(session, small=True)
    yield session
    session.stop()


@pytest.mark.slow
def test_tables_from_frames_are_the_same_cell_by_cell(
    generated,  # noqa: ANN001 - of a script
    spark: SparkSession,
    tmp_path: Path,
    contract: Contract,
) -> None:
    hub = Hub(tmp_path / "hub", contract)
    build_tables(generated.con, generated.design, contract, tables=TABLES)
    # Whatever was recomputed before is hidden: it can come from the frames alone.
    with undone(generated.con):
        generated.con.execute("update measurements set value = -1 where origin = 'recomputed'")
        hub.write_tables(generated.con)
    hub.write_frames(generated.con, generated.paths)

    con = build_tables_on_spark(spark, hub, generated.design, tmp_path / "made", tables=TABLES)

    assert [
        compare_tables(generated.con, con, contract.wide("derived", name)) for name in TABLES
    ] == [
        Compared("runs_wide", 192, 192 * len(contract.wide("derived", "runs_wide").fields), 0),
        Compared("run_metrics", 768, 768 * 8, 0),
        Compared("cells", 256, 256 * 26, 0),
        Compared("comparisons", 128, 128 * 45, 0),
    ]


@pytest.mark.slow
def test_a_capture_with_more_frames_than_stated_is_refused(
    generated,  # noqa: ANN001 - of a script
    spark: SparkSession,
    tmp_path: Path,
    contract: Contract,
) -> None:
    hub = Hub(tmp_path / "hub", contract)
    hub.write_frames(generated.con, generated.paths)
    with undone(generated.con):
        generated.con.execute("update captures set frames = 300")
        hub.write_tables(generated.con)

    with pytest.raises(StudyError) as refused:
        build_tables_on_spark(
            spark, hub, generated.design, tmp_path / "made", tables=["run_metrics"]
        )

    assert refused.value.message.endswith("has 6000 frames, the longest capture states 300")


@pytest.mark.slow
def test_whole_numbers_beyond_64_bits_become_the_nearest_doubles(spark: SparkSession) -> None:
    # Of the first three, halves of 64 bits that are rounded one by one give other doubles.
    wide = [32598304633154488709, 35883910672049099969, 32534540884931299581, 2**64 - 1, 10**30 + 1]
    query = "select " + ", ".join(f"v{n}::double as d{n}" for n in range(len(wide)))
    held = ", ".join(f"'{number}'::hugeint as v{n}" for n, number in enumerate(wide))
    statement = f"{query} from (select {held}) as t"

    found = spark.sql(translated(statement)).collect()

    assert [tuple(found[0])] == duckdb.execute(statement).fetchall() == [tuple(map(float, wide))]
