"""Which tables a release publishes, and where."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rigledger.tabular import column_names

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract.model import Contract, Table

Folder = Literal["data", "derived", "quality", ""]
WRITTEN_BY_RELEASE = ("changes", "findings")


@dataclass(frozen=True, slots=True)
class Published:
    """A table of a release.

    Attributes:
        table: Its columns, with the metric columns that it holds here.
        folder: Folder of the release; empty for the top.
    """

    table: Table
    folder: Folder

    @property
    def csv(self) -> str:
        """Path of its CSV file in the release."""
        return "/".join(part for part in (self.folder, f"{self.table.name}.csv") if part)

    @property
    def parquet(self) -> str:
        """Path of its Parquet file in the release; for source and derived tables."""
        return f"{self.folder}/{self.table.name}.parquet"


def source_tables(contract: Contract) -> tuple[Published, ...]:
    """Give the source tables, in the order of their names."""
    return tuple(Published(table, "data") for table in contract.group("source"))


def derived_tables(con: duckdb.DuckDBPyConnection, contract: Contract) -> tuple[Published, ...]:
    """Give the derived tables that were built in a connection, in the order of their names."""
    found = []
    for table in contract.group("derived"):
        columns = column_names(con, table.name)
        if columns and table.name not in WRITTEN_BY_RELEASE:
            found.append(Published(with_held_metrics(contract, table, columns), "derived"))
    return tuple(found)


def with_held_metrics(contract: Contract, table: Table, columns: tuple[str, ...]) -> Table:
    """Give a table with those metrics as columns that stand among some columns, in their order."""
    if not table.metric_columns:
        return table
    metrics = tuple(name for name in columns if name in contract.metrics)
    return contract.wide(table.group, table.name, metrics)


def own_tables(contract: Contract) -> tuple[Published, ...]:
    """Give the tables that the release itself writes: findings and changes."""
    return (
        Published(contract.table("derived", "findings"), "quality"),
        Published(contract.table("derived", "changes"), ""),
    )
