"""The tables' workshop on Spark: the same statements, translated, and the same statistics."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from rigledger.contract.frame_conditions import TYPES
from rigledger.contract.sql_text import identifier, literal
from rigledger.spark.translate import translated
from rigledger.tables.workshop import Workshop

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from pyspark.sql import DataFrame, SparkSession

    from rigledger.contract import Table


@dataclass(kw_only=True)
class SparkShop(Workshop):
    """A workshop whose queries Spark runs; each table that it makes is kept as Parquet.

    What numpy computes (intervals, verdicts) is computed by the same functions on the driver, from
    rows that Spark gives them. Derived tables are put into ``con`` too, for whom reads them there.

    Attributes:
        spark: A session, prepared, with a view of each source table.
        folder: Where the tables are kept; nothing may be there yet.
    """

    spark: SparkSession
    folder: Path

    def fill(self, name: str, frame: pl.DataFrame) -> None:
        """Make a table of ``work`` from a frame."""
        path = self.folder / f"work_{name}"
        path.mkdir(parents=True)
        frame.write_parquet(path / "all.parquet")
        self.spark.read.parquet(str(path)).createOrReplaceTempView(f"work_{name}")
        self._made.add(name)

    def fill_rows(self, name: str, table: Table, rows: Sequence[Mapping[str, object]]) -> None:
        """Make a table of ``work`` with a table's columns from rows."""
        schema = {held.name: TYPES[held.type] for held in table.fields}
        self.fill(name, pl.DataFrame(rows, schema=schema, orient="row"))

    def frame(self, query: str) -> pl.DataFrame:
        """Run a query on Spark and give its rows as a frame."""
        self._need_of(query)
        found = pl.from_arrow(self.spark.sql(translated(query)).toArrow())
        assert isinstance(found, pl.DataFrame)  # noqa: S101 - a table is never a series
        return found

    def make_work(self, name: str, query: str) -> None:
        """Make a table of ``work`` on Spark."""
        keep(self.spark.sql(translated(query)), self.folder, f"work_{name}")

    def make_derived(self, name: str, query: str) -> None:
        """Make a derived table on Spark, and put its rows into the database."""
        keep(self.spark.sql(translated(query)), self.folder, name)
        files = literal((self.folder / name / "*.parquet").as_posix())
        self.con.execute(
            f"create or replace table {identifier(name)} as from read_parquet({files})"
        )


def keep(rows: DataFrame, folder: Path, name: str) -> None:
    """Compute rows once, keep them as Parquet, and make a view of that.

    Else each table would be computed anew for every table that needs it.
    """
    path = str(folder / name)
    rows.write.parquet(path)
    kept = rows.sparkSession.read.schema(rows.schema).parquet(path)
    kept.createOrReplaceTempView(name)
