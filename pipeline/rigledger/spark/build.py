"""Builds the derived tables on Spark, from partitioned Parquet."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.database import connect
from rigledger.spark.frames import make_frame_metrics, recompute_measurements
from rigledger.spark.partitioned import FRAMES
from rigledger.spark.shop import SparkShop
from rigledger.tables.build import DERIVED_TABLES, FILLERS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

    import duckdb
    from pyspark.sql import SparkSession

    from rigledger.claims.model import Claim
    from rigledger.spark.partitioned import Hub
    from rigledger.study.design import Design


def build_tables_on_spark(
    spark: SparkSession,
    hub: Hub,
    design: Design,
    folder: Path,
    *,
    tables: Iterable[str] = DERIVED_TABLES,
    claims: Sequence[Claim] = (),
) -> duckdb.DuckDBPyConnection:
    """Build derived tables on Spark; where the frames are there, metrics are recomputed from them.

    Args:
        spark: A prepared session.
        hub: Source tables as partitioned Parquet, and frames if they are kept.
        design: The study's design.
        folder: Where every table that is made is kept as Parquet, a folder each; it is not there
            yet, or empty.
        tables: Names of the derived tables to build.
        claims: The review's sentences, for the table ``claims``.

    Returns:
        A connection with views of the source tables and with the derived tables.
    """
    hub.open_in_spark(spark)
    con = connect()
    hub.open_in_duckdb(con)
    if (hub.folder / FRAMES).is_dir():
        make_frame_metrics(spark, tuple(hub.contract.metrics.values()), folder)
        recompute_measurements(spark, folder)
    shop = SparkShop(con, design, hub.contract, FILLERS, claims, spark=spark, folder=folder)
    for name in tables:
        shop.derive(hub.contract.wide("derived", name))
    return con
