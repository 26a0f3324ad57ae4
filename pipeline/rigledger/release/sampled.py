"""Of a very long table frictionless reads a sample; every row of it is checked where it is.

Frictionless takes seconds for a hundred thousand rows. A release says which tables it read in part.
"""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier
from rigledger.files import sha256_of
from rigledger.release.drawn import draw
from rigledger.release.published import own_tables
from rigledger.release.reload import broken_rows
from rigledger.tabular import canonical_text, order_by, text_select
from rigledger.typed_check import references_lead_somewhere, table_keeps_contract

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Table
    from rigledger.release.drawn import Drawn
    from rigledger.release.published import Published
    from rigledger.release.view import ReleaseView

MOST_ROWS = 100_000
"""A table of more rows is read in part."""

SAMPLE = 4_000
"""Records that are read of its file; each is compared with the row that it was written from."""

SEED = 20261125


def read_in_part(rows: Mapping[str, int]) -> dict[str, dict[str, int]]:
    """Say which tables frictionless reads a sample of, as the quality results state it.

    Args:
        rows: Rows of each table.
    """
    return {
        name: {"rows": count, "read_by_frictionless": SAMPLE, "seed": SEED}
        for name, count in sorted(rows.items())
        if count > MOST_ROWS
    }


def compiled_problems(
    folder: Path, view: ReleaseView, scratch: Path, in_order: Collection[str] = ()
) -> list[str]:
    """Check the tables of which frictionless reads a sample, and draw the samples.

    Every row is held against the contract where it is, typed in the database. Of the file it is
    looked at how many records there are, and the drawn ones are read and compared with the rows
    that they were written from, cell by cell.

    Args:
        folder: The release in the making.
        view: What it is made from.
        scratch: An empty folder; the samples are written there, under the tables' paths.
        in_order: Tables whose rows were seen to stand in published order.

    Returns:
        A text a problem.
    """
    names = set(view.results.get("read_in_part", {}))
    listed = (*view.published, *own_tables(view.contract))
    known = {held.table.name: held.table for held in listed}
    found: list[str] = []
    for held in listed:
        if held.table.name in names:
            as_is = held.table.name in in_order
            found += _broken(view.con, held, known, in_order=as_is)
            found += _differing(view.con, held, folder, scratch, as_is=as_is)
    return found


def _broken(
    con: duckdb.DuckDBPyConnection,
    held: Published,
    references: Mapping[str, Table],
    *,
    in_order: bool,
) -> list[str]:
    """Say what breaks the contract; the rows are spelled as text only where something does."""
    # Derived tables were held against the contract when they were built, but for where keys lead.
    kept = (
        references_lead_somewhere(con, held.table, references)
        if held.folder == "derived"
        else table_keeps_contract(con, held.table, references, in_order=in_order)
    )
    if kept:
        return []
    text = identifier(f"text_{held.table.name}")
    con.execute(
        f"CREATE OR REPLACE TEMP TABLE {text} AS "
        f"SELECT row_number() OVER () + 1 AS _row, * FROM ({text_select(held.table)})"
    )
    relations = {name: name for name in references}
    return [f"{one.file}, {one.key}: {one.says}" for one in broken_rows(con, held, relations)]


def _differing(
    con: duckdb.DuckDBPyConnection, held: Published, folder: Path, scratch: Path, *, as_is: bool
) -> list[str]:
    """Say where the file is not what the table is: its number of records, or a drawn one."""
    drawn = _draw(folder / held.csv, scratch / held.csv)
    counts = f"SELECT count(*), max(rowid) FROM {identifier(held.table.name)}"
    ((rows, last),) = con.execute(counts).fetchall()
    if drawn.records != rows:
        return [f"{held.csv}: {drawn.records} records were written of {rows} rows"]
    try:
        written = drawn.rows()
    except ValueError as error:
        return [f"{held.csv}: a record can't be read: {error}"]
    query = _at_places(held.table, as_is=as_is, all_there=last == rows - 1)
    meant = con.execute(query, {"places": drawn.places}).fetchall()
    return [
        f"{held.csv}, row {place + 2}: it was written otherwise than it stands in the table"
        for place, one, other in zip(drawn.places, written, meant, strict=True)
        if one != other
    ]


def _at_places(table: Table, *, as_is: bool, all_there: bool) -> str:
    """Give the query of a table's rows at some places of its published order, all as text.

    Args:
        table: The table.
        as_is: Whether its rows stand in that order.
        all_there: Whether none was ever taken out of it, so that its rows are numbered from 0.
    """
    rows = identifier(table.name)
    order = "" if as_is else f" ORDER BY {order_by(table)}"
    cells = ", ".join(
        f"coalesce({canonical_text(field, f't.{identifier(field.name)}')}, '')"
        for field in table.fields
    )
    if as_is and all_there:
        return f"""
            SELECT {cells} FROM {rows} AS t JOIN (SELECT unnest($places) AS place) AS drawn
            ON t.rowid = drawn.place ORDER BY drawn.place
        """
    # The places are looked for in the rows' numbers alone: only rows at them are read whole.
    return f"""
        WITH placed AS (
            SELECT held, row_number() OVER () - 1 AS place
            FROM (SELECT rowid AS held FROM {rows} AS t{order})
        ), drawn AS MATERIALIZED (
            FROM placed WHERE place IN (SELECT unnest($places))
        )
        SELECT {cells} FROM {rows} AS t JOIN drawn ON t.rowid = drawn.held ORDER BY drawn.place
    """


def write_samples(
    folder: Path, scratch: Path, resources: Mapping[str, dict[str, Any]], names: Iterable[str]
) -> dict[str, dict[str, Any]]:
    """Write a sample of some tables, and beside it the tables that its keys lead to.

    Args:
        folder: The release in the making.
        scratch: A folder that is empty, or where `compiled_problems` has left its samples.
        resources: All resources of the release by name.
        names: The tables.

    Returns:
        The resources in ``scratch``, by name. Keys that lead to a table of which there is a sample
        only are left out.
    """
    sampled = set(names)
    found: dict[str, dict[str, Any]] = {}
    for name in sorted(sampled):
        keys = resources[name]["schema"].get("foreignKeys", [])
        targets = {key["reference"].get("resource") or name for key in keys}
        kept = [key for key in keys if (key["reference"].get("resource") or name) not in sampled]
        found[name] = _sample(folder, scratch, resources[name], kept)
        for target in sorted(targets - sampled - found.keys()):
            found[target] = resources[target]
            (scratch / resources[target]["path"]).parent.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(folder / resources[target]["path"], scratch / resources[target]["path"])
    return found


def _sample(
    folder: Path, scratch: Path, resource: dict[str, Any], keys: list[dict[str, Any]]
) -> dict[str, Any]:
    path = scratch / resource["path"]
    if not path.is_file():
        _draw(folder / resource["path"], path)
    schema = {key: held for key, held in resource["schema"].items() if key != "foreignKeys"}
    schema |= {"foreignKeys": keys} if keys else {}
    stated = {"hash": f"sha256:{sha256_of(path)}", "bytes": path.stat().st_size}
    return resource | stated | {"schema": schema}


def _draw(source: Path, path: Path) -> Drawn:
    """Write records of a CSV file, drawn by the seed, as a file of their own."""
    drawn = draw(source, SAMPLE, SEED)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(drawn.text)
    return drawn
