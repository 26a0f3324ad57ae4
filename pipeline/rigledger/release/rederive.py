"""Builds the derived tables of a release again and compares every value with what it holds."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier
from rigledger.files import sha256_of
from rigledger.release.claims_text import claims_within
from rigledger.release.compare import RELATIVE, cell_differences
from rigledger.release.folder import CLAIMS
from rigledger.release.outcome import Difference
from rigledger.tables.build import build_tables
from rigledger.tabular import column_names, table_names, write_csv

if TYPE_CHECKING:
    from collections.abc import Collection
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Contract, Table
    from rigledger.release.published import Published
    from rigledger.study.model import Design


@dataclass(frozen=True, slots=True)
class Rebuilt:
    """What rebuilding found.

    Attributes:
        differences: Rows and values that don't follow from the source tables.
        same_bytes: Names of the tables that were rebuilt byte for byte.
        same_values: Names of those whose values only lie within the second promise.
    """

    differences: tuple[Difference, ...]
    same_bytes: tuple[str, ...]
    same_values: tuple[str, ...]


def rederive(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    contract: Contract,
    folder: Path,
    *,
    scratch: Path,
    derived: tuple[Published, ...],
    known: tuple[Table, ...],
    other_version: bool,
) -> Rebuilt:
    """Build the derived tables from the source tables and compare.

    Args:
        con: Connection with the tables of the release; it holds the same ones afterwards.
        design: The release's own design.
        contract: The contract.
        folder: The release.
        scratch: Folder for files that are compared and removed again.
        derived: The derived tables that the release holds, with its own columns.
        known: The derived tables that a release of its contract could hold.
        other_version: Whether it was made with other versions than run here.

    Returns:
        Differences, and which tables are the same.
    """
    there = table_names(con)
    held = [table for table in derived if table.table.name in there]
    for table in held:
        name = table.table.name
        con.execute(f"ALTER TABLE {identifier(name)} RENAME TO {identifier('recorded_' + name)}")
    try:
        claims = claims_within(folder / CLAIMS, con, design, contract)
        build_tables(con, design, contract, claims=claims)
        found = [_compare(con, table, folder, scratch) for table in held]
        extra = _not_published(con, known, held)
    finally:
        _put_back(con, contract, held, there)
    differences = [*extra, *(one for differences, _ in found for one in differences)]
    marked = tuple(replace(one, other_version=other_version) for one in differences)
    names = [table.table.name for table in held]
    exact = tuple(name for name, (_, same) in zip(names, found, strict=True) if same)
    close = tuple(
        name for name, (some, same) in zip(names, found, strict=True) if not same and not some
    )
    return Rebuilt(marked, exact, close)


def _compare(
    con: duckdb.DuckDBPyConnection, held: Published, folder: Path, scratch: Path
) -> tuple[list[Difference], bool]:
    name = held.table.name
    built = column_names(con, name)
    if not built:
        says = "this version doesn't build the table, so it can't be held against its sources"
        return [Difference("value_differs", held.csv, says)], False
    again = scratch / "again.csv"
    table = _shared(held.table, built)
    write_csv(con, table, again)
    same = sha256_of(again) == sha256_of(folder / held.csv)
    again.unlink()
    if same:
        return [], True
    cells = cell_differences(con, table, f"recorded_{name}", name)
    return [
        _value(held.csv, cell.key, cell.column, cell.left, cell.right)
        if cell.column
        else _row(held.csv, cell.key, is_recorded=cell.left is not None)
        for cell in cells
    ], False


def _shared(table: Table, built: Collection[str]) -> Table:
    """Leave out the columns of an older contract that this version no longer builds."""
    return replace(table, fields=tuple(one for one in table.fields if one.name in built))


def _value(
    file: str, key: str, column: str, recorded: str | None, rebuilt: str | None
) -> Difference:
    says = f"the value doesn't follow from the runs (more than {RELATIVE:g} apart)"
    return Difference("value_differs", file, says, key, column, recorded, rebuilt)


def _row(file: str, key: str, *, is_recorded: bool) -> Difference:
    says = (
        "the row doesn't follow from the runs" if is_recorded else "a row that follows is missing"
    )
    return Difference("row_differs", file, says, key)


def _not_published(
    con: duckdb.DuckDBPyConnection, known: tuple[Table, ...], held: list[Published]
) -> list[Difference]:
    """Find derived tables that follow from the sources and that the release doesn't hold."""
    there = {table.table.name for table in held}
    made = table_names(con)
    return [
        Difference("missing", f"derived/{table.name}.csv", "a table that follows is not there")
        for table in known
        if table.name not in there and table.name in made and f"text_{table.name}" not in made
    ]


def _put_back(
    con: duckdb.DuckDBPyConnection,
    contract: Contract,
    held: list[Published],
    before: Collection[str],
) -> None:
    for table in contract.group("derived"):
        if f"text_{table.name}" not in before:
            con.execute(f"DROP TABLE IF EXISTS {identifier(table.name)}")
    for published in held:
        name = published.table.name
        con.execute(f"DROP TABLE IF EXISTS {identifier(name)}")
        con.execute(f"ALTER TABLE {identifier('recorded_' + name)} RENAME TO {identifier(name)}")
