"""Reads the tables of a release back: as text, spelling and contract checked, then cast."""

from __future__ import annotations

from typing import TYPE_CHECKING

import duckdb

from rigledger.contract.compile_sql import compile_steps
from rigledger.contract.sql_text import identifier
from rigledger.files import sha256_of
from rigledger.misspelt import misspellings
from rigledger.release.compare import cell_differences
from rigledger.release.outcome import Difference
from rigledger.release.published import Published, own_tables, source_tables, with_held_metrics
from rigledger.release.short_tables import ShortTables
from rigledger.tabular import (
    TabularError,
    file_literal,
    read_header,
    read_text,
    type_text,
    write_csv,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping
    from pathlib import Path
    from typing import Any

    from rigledger.contract.model import Contract, Table

_SHOWN_PER_TABLE = 1000


def tables_of(
    folder: Path, descriptor: dict[str, Any], contract: Contract
) -> tuple[Published, ...]:
    """Give the source and derived tables that a release says it holds.

    A source table that it doesn't describe is listed too, so that its absence is found.
    """
    described = {held["path"] for held in descriptor["resources"] if "schema" in held}
    derived = (
        Published(_as_held(folder, table, contract), "derived")
        for table in contract.group("derived")
        if f"derived/{table.name}.csv" in described
    )
    return (*source_tables(contract), *derived)


def _as_held(folder: Path, table: Table, contract: Contract) -> Table:
    try:
        header = read_header(folder / f"derived/{table.name}.csv")
    except TabularError:
        header = ()
    return with_held_metrics(contract, table, header)


def reload_tables(
    con: duckdb.DuckDBPyConnection,
    folder: Path,
    contract: Contract,
    published: Iterable[Published],
) -> list[Difference]:
    """Fill a connection with the tables of a release, typed, under the contract's names.

    Args:
        con: Connection to fill; each table's text stays as ``text_<name>``.
        folder: The release.
        contract: The contract.
        published: Its source and derived tables.

    Returns:
        What can't be read, is misspelt or breaks the contract; a table that can't be read is
        missing from the connection.
    """
    return check_tables(con, folder, (*published, *own_tables(contract)))


def check_tables(
    con: duckdb.DuckDBPyConnection, folder: Path, listed: Iterable[Published]
) -> list[Difference]:
    """Read tables of a release as text, and check spelling and contract of every row.

    Args:
        con: Connection to fill with ``text_<name>``, and the typed table under its own name.
        folder: The release.
        listed: The tables; keys that lead to others are not looked at.

    Returns:
        What can't be read, is misspelt or breaks the contract.
    """
    found = []
    readable = []
    for held in listed:
        try:
            readable.append((held, _read(con, folder, held)))
        except TabularError as error:
            kept = error.row == 1
            found.append(Difference("unreadable", held.csv, error.message, other_version=kept))
    tables = ShortTables(con, {held.table.name: rows for held, rows in readable})
    for held, rows in readable:
        if rows and not tables.surely_fine(held.table):
            found += _checked(con, held, tables.rows)
    return found


def _read(con: duckdb.DuckDBPyConnection, folder: Path, held: Published) -> int:
    relation = f"text_{held.table.name}"
    rows = read_text(con, folder / held.csv, held.table.field_names, relation)
    type_text(con, held.table, relation)
    return rows


def _checked(
    con: duckdb.DuckDBPyConnection, held: Published, names: Collection[str]
) -> list[Difference]:
    relation = f"text_{held.table.name}"
    references = {key.table: f"text_{key.table}" for key in held.table.foreign_keys}
    known = {name: other for name, other in references.items() if name in names}
    spelling = [
        Difference(
            "contract", held.csv, f"not a {cell.type} as a release spells it",
            f"row {cell.row}", cell.column, cell.value,
        )
        for cell in misspellings(con, held.table, relation)
    ]  # fmt: skip
    return spelling + broken_rows(con, held, known)


def broken_rows(
    con: duckdb.DuckDBPyConnection, held: Published, references: Mapping[str, str]
) -> list[Difference]:
    """Find what breaks the contract in the text of a table.

    Args:
        con: Connection that holds the text as ``text_<name>``.
        held: The table.
        references: Relations that hold the tables of its foreign keys, by table name; a key whose
            table isn't named is not looked at.
    """
    relation = identifier(f"text_{held.table.name}")
    steps = compile_steps(held.table, relation=relation, references=references)
    # What is wrong is planned only where something is: planning takes longer than looking.
    queries = [
        step.violations(f"({step.suspects})")
        for step in steps
        if con.execute(f"SELECT 1 FROM ({step.suspects}) LIMIT 1").fetchall()
    ]
    rows = _rows(con, " UNION ALL ".join(queries)) if queries else []
    return [
        Difference(
            "contract", held.csv, f"breaks the contract: {rule}", f"row {row}", column, value
        )
        for rule, row, column, value in rows
    ]


def _rows(con: duckdb.DuckDBPyConnection, query: str) -> list[tuple[str, int, str, str | None]]:
    return con.execute(f"SELECT * FROM ({query}) ORDER BY ALL LIMIT {_SHOWN_PER_TABLE}").fetchall()


def byte_differences(
    con: duckdb.DuckDBPyConnection, folder: Path, scratch: Path, published: Iterable[Published]
) -> list[Difference]:
    """Write the loaded tables again and compare bytes: the first promise, for source tables."""
    found = []
    for held in published:
        again = scratch / "again.csv"
        write_csv(con, held.table, again)
        if sha256_of(again) != sha256_of(folder / held.csv):
            says = f"{held.csv} is spelled or ordered otherwise than a release would"
            found.append(Difference("made_differently", held.csv, says))
        again.unlink()
    return found


def copy_differences(
    con: duckdb.DuckDBPyConnection, folder: Path, published: Iterable[Published]
) -> list[Difference]:
    """Compare the Parquet copies with the loaded tables."""
    return [found for held in published for found in _copy_differences(con, folder, held)]


def _copy_differences(
    con: duckdb.DuckDBPyConnection, folder: Path, held: Published
) -> list[Difference]:
    path = folder / held.parquet
    if not path.is_file():
        return [Difference("missing", held.parquet, "the Parquet copy is not there")]
    copy = f"read_parquet({file_literal(path)})"
    try:
        if _columns(con, copy) != _columns(con, identifier(held.table.name)):
            says = "its columns or types are not the CSV's"
            return [Difference("copy_differs", held.parquet, says)]
        if _same_in_order(con, identifier(held.table.name), copy):
            return []
        con.execute(f"CREATE OR REPLACE TABLE _copy AS FROM {copy}")
    except duckdb.Error as error:
        says = f"can't be read as Parquet: {str(error).splitlines()[0]}"
        return [Difference("unreadable", held.parquet, says)]
    if _same_rows(con, held.table.name, "_copy"):
        return []
    return [
        Difference(
            "copy_differs", held.parquet,
            "its rows are not the CSV's" if cell.column is None else "a cell is not the CSV's",
            cell.key, cell.column, cell.right, cell.left,
        )
        for cell in cell_differences(con, held.table, held.table.name, "_copy")
    ]  # fmt: skip


def _same_rows(con: duckdb.DuckDBPyConnection, one: str, other: str) -> bool:
    rows = con.execute(
        f"(FROM {identifier(one)} EXCEPT ALL FROM {identifier(other)}) UNION ALL "
        f"(FROM {identifier(other)} EXCEPT ALL FROM {identifier(one)}) LIMIT 1"
    ).fetchall()
    return not rows


def _same_in_order(con: duckdb.DuckDBPyConnection, one: str, other: str) -> bool:
    rows = con.execute(
        f"SELECT 1 FROM (SELECT a, b FROM {one} AS a POSITIONAL JOIN {other} AS b) "
        "WHERE a IS DISTINCT FROM b LIMIT 1"
    ).fetchall()
    return not rows


def _columns(con: duckdb.DuckDBPyConnection, relation: str) -> list[tuple[str, str]]:
    found = con.sql(f"FROM {relation}")
    return [(name, str(kind)) for name, kind in zip(found.columns, found.types, strict=True)]
