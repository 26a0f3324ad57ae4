"""Of a very long table frictionless reads a sample; the compiled check reads every row of it.

Frictionless takes seconds for a hundred thousand rows. A release says which tables it read in part.
"""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier, literal
from rigledger.database import connect
from rigledger.files import sha256_of
from rigledger.release.published import own_tables
from rigledger.release.reload import check_tables
from rigledger.tabular import read_text

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    import duckdb

    from rigledger.release.published import Published
    from rigledger.release.view import ReleaseView

MOST_ROWS = 100_000
"""A table of more rows is read in part."""

SAMPLE = 10_000
"""Rows that are read of it; each is checked by the compiled check too."""

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


def compiled_problems(folder: Path, view: ReleaseView, scratch: Path) -> list[str]:
    """Check every row of the tables of which frictionless reads a sample, and draw the samples.

    Args:
        folder: The release in the making.
        view: What it is made from.
        scratch: An empty folder; the samples are written there, under the tables' paths.

    Returns:
        A text a problem; where there is one, there are no samples.
    """
    names = set(view.results.get("read_in_part", {}))
    held = (*view.published, *own_tables(view.contract))
    needed = names | {
        key.table for one in held if one.table.name in names for key in one.table.foreign_keys
    }
    tables: list[Published] = [one for one in held if one.table.name in needed]
    if not names:
        return []
    with connect() as con:
        found = check_tables(con, folder, tables)
        con.execute("SET threads = 1")  # which rows are drawn follows from it
        for one in () if found else tables:
            if one.table.name in names:
                columns = one.table.field_names
                _draw(con, f"text_{one.table.name}", columns, scratch / one.csv)
    return [f"{one.file}, {one.key}: {one.says}" for one in found]


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
        names = [field["name"] for field in resource["schema"]["fields"]]
        with connect(threads=1) as con:
            read_text(con, folder / resource["path"], names, "sampled")
            _draw(con, "sampled", names, path)
    schema = {key: held for key, held in resource["schema"].items() if key != "foreignKeys"}
    schema |= {"foreignKeys": keys} if keys else {}
    stated = {"hash": f"sha256:{sha256_of(path)}", "bytes": path.stat().st_size}
    return resource | stated | {"schema": schema}


def _draw(con: duckdb.DuckDBPyConnection, relation: str, names: Iterable[str], path: Path) -> None:
    """Write rows of a text table, drawn by the seed, in the order in which they stand."""
    path.parent.mkdir(parents=True, exist_ok=True)
    columns = ", ".join(identifier(name) for name in names)
    con.execute(
        f"COPY (SELECT {columns} FROM (FROM {identifier(relation)} USING SAMPLE "
        f"reservoir({SAMPLE} ROWS) REPEATABLE ({SEED})) ORDER BY _row) TO {literal(str(path))} "
        "(FORMAT csv, HEADER true, DELIMITER ',', QUOTE '\"', ESCAPE '\"', NULLSTR '')"
    )
