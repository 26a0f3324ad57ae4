"""A study's source tables and the frames of its captures as partitioned Parquet.

A folder a table. What grows with the sets is partitioned by set, so that a new set is a new folder
beside the others; frames are partitioned by the first digit of their capture's hash. DuckDB
writes it; both engines read it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.sql_text import identifier, literal
from rigledger.tabular import file_literal, typed_select

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    import duckdb
    from pyspark.sql import SparkSession

    from rigledger.contract import Contract, Table

BY_SET = {
    "sessions": "select * from ({rows})",
    "runs": "select r.*, set_id from ({rows}) r join sessions using (session)",
    "measurements": (
        "select m.*, set_id from ({rows}) m join runs using (run) join sessions using (session)"
    ),
}
"""Tables that are partitioned by set, and how their rows find it."""

SPARK_TYPES = {
    "string": "STRING",
    "integer": "BIGINT",
    "number": "DOUBLE",
    "boolean": "BOOLEAN",
    "date": "DATE",
    "datetime": "TIMESTAMP_NTZ",
}
"""Spark's types of the contract's types."""

FRAMES = "frames"
FRAME_COLUMNS = "capture STRING, nth BIGINT, frame_ns BIGINT, shard STRING"
_FILES_A_STATEMENT = 500


@dataclass(frozen=True, slots=True)
class Hub:
    """A folder with a study's tables and frames as partitioned Parquet.

    Attributes:
        folder: The folder.
        contract: The contract of the tables.
    """

    folder: Path
    contract: Contract

    def write_tables(self, con: duckdb.DuckDBPyConnection) -> None:
        """Write every source table of a connection."""
        for table in self.contract.group("source"):
            folder = self.folder / table.name
            folder.mkdir(parents=True)
            rows = typed_select(table)
            if table.name in BY_SET:
                _write(con, BY_SET[table.name].format(rows=rows), folder, "set_id")
            else:
                _write(con, rows, folder / "all.parquet")

    def write_frames(self, con: duckdb.DuckDBPyConnection, captures: Iterable[Path]) -> None:
        """Write the frames of stored captures, each named by its hash.

        Args:
            con: Any connection.
            captures: Parquet files with a BIGINT column ``frame_ns``, of different names.
        """
        folder = self.folder / FRAMES
        folder.mkdir(parents=True)
        paths = sorted(captures)
        for first in range(0, len(paths), _FILES_A_STATEMENT):
            listed = ", ".join(file_literal(path) for path in paths[first:][:_FILES_A_STATEMENT])
            rows = (
                "select parse_filename(filename, true) as capture, file_row_number as nth, "
                "frame_ns, capture[1] as shard from "
                f"read_parquet([{listed}], filename = true, file_row_number = true)"
            )
            _write(con, rows, folder, "shard")

    def open_in_duckdb(self, con: duckdb.DuckDBPyConnection) -> None:
        """Make a view of each source table, which reads from the files."""
        for table in self.contract.group("source"):
            con.execute(f"create view {identifier(table.name)} as {self._scan(table)}")

    def open_in_spark(self, spark: SparkSession) -> None:
        """Make a view of each source table, and of the frames if there are any."""
        for table in self.contract.group("source"):
            names = [f"`{held.name}`" for held in table.fields]
            typed = [f"`{f.name}` {SPARK_TYPES[f.type]}" for f in table.fields]
            if table.name in BY_SET and "set_id" not in table.field_names:
                typed.append("set_id STRING")
            read = spark.read.schema(", ".join(typed)).parquet(str(self.folder / table.name))
            read.select(*names).createOrReplaceTempView(table.name)
        if (self.folder / FRAMES).is_dir():
            frames = spark.read.schema(FRAME_COLUMNS).parquet(str(self.folder / FRAMES))
            frames.createOrReplaceTempView(FRAMES)

    def _scan(self, table: Table) -> str:
        columns = [f"{identifier(f.name)}::{SQL_TYPES[f.type]} as {identifier(f.name)}"
                   for f in table.fields]  # fmt: skip
        folder = self.folder / table.name
        if not any(folder.rglob("*.parquet")):
            empty = [f"null::{SQL_TYPES[f.type]} as {identifier(f.name)}" for f in table.fields]
            return f"select {', '.join(empty)} limit 0"
        files = literal((folder / "**" / "*.parquet").as_posix())
        partitions = "hive_partitioning = true, hive_types = {'set_id': varchar}"
        plain = "hive_partitioning = false"
        options = partitions if table.name in BY_SET else plain
        return f"select {', '.join(columns)} from read_parquet({files}, {options})"


def _write(
    con: duckdb.DuckDBPyConnection, rows: str, to: Path, partition: str | None = None
) -> None:
    by = f", partition_by ({partition}), append" if partition else ""
    con.execute(f"copy ({rows}) to {literal(to.as_posix())} (format parquet{by})")
