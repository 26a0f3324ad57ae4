"""The row-level difference to the release before, and what it means for the version."""

from __future__ import annotations

import json
from dataclasses import dataclass, replace
from itertools import chain, repeat
from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier, literal
from rigledger.files import sha256_of
from rigledger.ordered import published_order
from rigledger.release.carried import refuse_newer
from rigledger.release.causes import CURRENT, find_causes, find_moves
from rigledger.release.errors import ReleaseError
from rigledger.release.meta import Earlier
from rigledger.release.version import Reason
from rigledger.tabular import (
    column_names,
    create_tables,
    read_header,
    read_text,
    text_select,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Contract, Table
    from rigledger.release.published import Published

# Of the derived tables only changed verdicts are listed: their other values follow from the rows.
VERDICTS: Mapping[str, tuple[str, ...]] = {
    "comparisons": ("direction", "size", "no_verdict"),
    "factor_effects": ("depends",),
    "claims": ("verdict",),
}


@dataclass(frozen=True, slots=True)
class Previous:
    """A release as it is needed for a comparison."""

    folder: Path
    earlier: Earlier
    descriptor: Mapping[str, Any]

    def schemas(self) -> dict[str, Mapping[str, Any]]:
        """Give its Table Schemas by table."""
        return {r["name"]: r["schema"] for r in self.descriptor["resources"] if "schema" in r}

    def paths(self) -> dict[str, str]:
        """Give the paths of its CSV files by table."""
        return {r["name"]: r["path"] for r in self.descriptor["resources"] if "schema" in r}


def open_previous(folder: Path) -> Previous:
    """Open an earlier release for comparison.

    Raises:
        ReleaseError: The folder holds none, or one whose files can't be read.
        NewerContractError: It was written by a newer contract than this program knows.
    """
    try:
        descriptor = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
        earlier = Earlier(descriptor["version"], sha256_of(folder / "SHA256SUMS"))
    except (OSError, ValueError, KeyError) as error:
        raise ReleaseError(
            f"the earlier release can't be read: {error}", file=folder.name,
            next_step="name the folder of the earlier release with --previous",
        ) from error  # fmt: skip
    refuse_newer(descriptor, file=folder.name)
    return Previous(folder, earlier, descriptor)


def find_changes(
    con: duckdb.DuckDBPyConnection,
    contract: Contract,
    published: Iterable[Published],
    previous: Previous | None,
) -> None:
    """Fill the table ``changes`` of a connection: every row that differs from the earlier release.

    Args:
        con: Connection with the typed source and derived tables.
        contract: Gives the columns of ``changes``.
        published: The tables of this release.
        previous: The earlier release; None for a first one, whose rows are all added.

    Raises:
        TabularError: A file of the earlier release can't be read.
    """
    create_tables(con, [contract.table("derived", "changes")])
    for held in published:
        if held.folder == "data" or (previous and held.table.name in VERDICTS):
            _compare(con, held.table, previous)
    if previous is not None:
        names = {held.table.name for held in published}
        _explain(con, previous, names)


def _explain(con: duckdb.DuckDBPyConnection, previous: Previous, names: set[str]) -> None:
    """Say what brought each change, and which current comparisons say otherwise than before."""
    earlier = {"sets": "_sets_before", "sessions": "_sessions_before"}
    if earlier.keys() <= names & previous.paths().keys():
        for name, relation in earlier.items():
            _read_earlier(con, name, previous, relation)
        find_causes(con)
    if "comparisons" in names & previous.paths().keys():
        _read_earlier(con, "comparisons", previous, "_comparisons_before")
        find_moves(con)


def _compare(con: duckdb.DuckDBPyConnection, table: Table, previous: Previous | None) -> None:
    if previous is None or table.name not in previous.paths():
        if table.name not in VERDICTS:
            keys = text_select(_key_alone(table), as_is=published_order(con, table))
            con.execute(_listed(table, "added", f"({keys})"))
        return
    con.execute(f"CREATE OR REPLACE TEMP TABLE _now AS {text_select(table)}")
    _read_earlier(con, table.name, previous, "_before")
    columns = column_names(con, "_before")
    if not set(table.primary_key) <= set(columns):
        con.execute("DELETE FROM _before")
    shared = [
        name for name in table.field_names if name in columns and name not in table.primary_key
    ]
    if table.name in VERDICTS:
        shared = [name for name in shared if name in VERDICTS[table.name]]
    else:
        con.execute(_one_sided(table, "added", "_now", "_before"))
        con.execute(_one_sided(table, "removed", "_before", "_now"))
    if shared:
        con.execute(_changed(table, shared))


def _key_alone(table: Table) -> Table:
    """Leave the columns of a table's key: the others of a million rows take a while to spell."""
    return replace(
        table, fields=tuple(held for held in table.fields if held.name in table.primary_key)
    )


def _read_earlier(
    con: duckdb.DuckDBPyConnection, name: str, previous: Previous, relation: str
) -> None:
    file = previous.folder / previous.paths()[name]
    read_text(con, file, read_header(file), relation)


def _key_text(table: Table, alias: str) -> str:
    # In one call, in which a blank is nothing: joining part by part makes a text for each part.
    parts = (
        f"{literal(f'{before}{name}=')}, {alias}.{identifier(name)}"
        for before, name in zip(chain([""], repeat(" ")), table.primary_key, strict=False)
    )
    return f"concat({', '.join(parts)})"


def _same_key(table: Table, one: str, other: str) -> str:
    return " AND ".join(
        f"{one}.{identifier(n)} = {other}.{identifier(n)}" for n in table.primary_key
    )


def _listed(table: Table, change: str, here: str) -> str:
    return (
        f"INSERT INTO changes SELECT {literal(table.name)}, {_key_text(table, 'a')}, "
        f"{literal(change)}, NULL, NULL, NULL, NULL FROM {here} AS a"
    )


def _one_sided(table: Table, change: str, here: str, there: str) -> str:
    return (
        f"{_listed(table, change, here)} "
        f"WHERE NOT EXISTS (SELECT 1 FROM {there} AS b WHERE {_same_key(table, 'a', 'b')})"
    )


def _changed(table: Table, names: Sequence[str]) -> str:
    """List the cells that changed: of the few rows in which one did, each column is looked at."""
    differs = [f"a.{column} IS DISTINCT FROM b.{column}" for column in map(identifier, names)]
    cells = ", ".join(
        f"CASE WHEN {here} THEN {{'field': {literal(name)}, 'was': b.{identifier(name)}, "
        f"'becomes': a.{identifier(name)}}} END"
        for name, here in zip(names, differs, strict=True)
    )
    return (
        f"INSERT INTO changes SELECT {literal(table.name)}, key, 'changed', "
        "cell.field, cell.was, cell.becomes, NULL "
        f"FROM (SELECT {_key_text(table, 'a')} AS key, unnest([{cells}]) AS cell "
        f"FROM _now AS a JOIN _before AS b ON {_same_key(table, 'a', 'b')} "
        f"WHERE {' OR '.join(differs)}) WHERE cell IS NOT NULL"
    )


def data_reasons(con: duckdb.DuckDBPyConnection, published: Iterable[Published]) -> list[Reason]:
    """Say what the rows of ``changes`` mean for the version.

    Args:
        con: Connection with the table ``changes`` filled.
        published: The tables of this release; their foreign keys tell a reference from a value.
    """
    references = {
        (held.table.name, key.field) for held in published for key in held.table.foreign_keys
    }
    rows = con.execute(
        'SELECT "table", change, field, count(*) FROM changes WHERE "table" <> ? '
        "GROUP BY ALL ORDER BY ALL",
        [CURRENT],
    ).fetchall()
    return [
        _data_reason(table, change, field, count, is_reference=(table, field) in references)
        for table, change, field, count in rows
    ]


def _data_reason(
    table: str, change: str, field: str | None, count: int, *, is_reference: bool
) -> Reason:
    rows = "1 row" if count == 1 else f"{count} rows"
    if change == "removed":
        return Reason("major", f"{rows} of {table} gone")
    if change == "added":
        return Reason("minor", f"{rows} of {table} new")
    what = f"{rows} of {table} with another {field}"
    return Reason("minor" if is_reference else "patch", what)
