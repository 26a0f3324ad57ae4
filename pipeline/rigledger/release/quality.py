"""Runs the expectations on a release with great-expectations and keeps suite and results."""

from __future__ import annotations

from collections import defaultdict
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier, literal
from rigledger.files import sha256_of
from rigledger.ordered import WORTH_A_LOOK
from rigledger.release.drift import ROWS_LOST, drift_limits, make_drift, read_bands
from rigledger.release.errors import ReleaseError
from rigledger.release.expectations import (
    EACH_ITS_OWN,
    Against,
    Expectation,
    expectations,
)
from rigledger.release.judges import EVALUATE, JudgesHere
from rigledger.release.published import WRITTEN_BY_RELEASE
from rigledger.release.sampled import read_in_part
from rigledger.remembered import Remembered, key_of, versions_of
from rigledger.tabular import column_names, count_rows

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import date

    import duckdb

    from rigledger.contract.model import Table
    from rigledger.release.differences import Previous
    from rigledger.release.judges import Judges
    from rigledger.release.published import Published
    from rigledger.study.model import Design

_SQL = Path(__file__).parent / "sql" / "quality"
_NEEDS = {
    "measured_runs": "runs",
    "stated_values": "measurements",
    "planned_cells": "cells",
    "cell_spread": "cells",
    "unexplained_changes": "changes",
}
_FOLLOWS_FROM = ("great-expectations", "pandas", "numpy")


def assess(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    published: tuple[Published, ...],
    previous: Previous | None,
    released_on: date,
    *,
    remembered: Remembered | None = None,
    judges: Judges | None = None,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Hold a release against its expectations.

    Args:
        con: Connection with the typed source and derived tables and ``changes``.
        design: The design as published.
        published: The source and derived tables.
        previous: The earlier release, for the drift against it.
        released_on: Day of this one, which tells the bands that hold.
        remembered: What was found for the same expectations on the same rows.
        judges: Who evaluates them; None for this process.

    Returns:
        The suite and its results as JSON values, both without ids and times.

    Raises:
        ReleaseError: A gating expectation fails, or one could not be evaluated.
        MissingExtraError: great-expectations is not installed.
    """
    suite, rows = suite_of(con, design, published, previous, released_on)
    results = _run(con, suite, remembered or Remembered(), judges or JudgesHere())
    _refuse_failed_gates(suite, results, {"table_keys": _unsound_keys(con)})
    written = [name for name in WRITTEN_BY_RELEASE if column_names(con, name)]
    counted = {name: n for name, n in rows.items() if name in {h.table.name for h in published}}
    in_part = read_in_part(counted | count_rows(con, written))
    return (
        {"expectations": [item.as_dict() for item in suite]},
        {
            "rows": {held.table.name: rows[held.table.name] for held in published},
            "results": [results[item.name] for item in suite],
            "met": sum(bool(held["met"]) for held in results.values()),
            "expected": len(suite),
            **({"read_in_part": in_part} if in_part else {}),
        },
    )


def suite_of(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    published: tuple[Published, ...],
    previous: Previous | None,
    released_on: date,
) -> tuple[tuple[Expectation, ...], dict[str, int]]:
    """Give the expectations on a release, and the rows of each table that they are about."""
    tables = tuple(held.table for held in published)
    _make_views(con)
    make_keys(con, tables)
    rows = count_rows(con, (*(table.name for table in tables), *_views(con), "table_keys"))
    against = _against(con, previous, released_on)
    return expectations(design, rows, against), rows


def _against(
    con: duckdb.DuckDBPyConnection, previous: Previous | None, released_on: date
) -> Against:
    if previous is None:
        return Against()
    bands = read_bands(released_on)
    limits = tuple(drift_limits(make_drift(con, previous), bands))
    lost = bands.get(ROWS_LOST)
    return Against(_rows_before(previous), (lost.points if lost else None) or 0.0, limits)


def _make_views(con: duckdb.DuckDBPyConnection) -> None:
    for name, needed in _NEEDS.items():
        if column_names(con, needed):
            query = (_SQL / f"{name}.sql").read_text(encoding="utf-8")
            con.execute(f"CREATE OR REPLACE TEMP TABLE {name} AS {query}")


def make_keys(con: duckdb.DuckDBPyConnection, tables: Iterable[Table]) -> None:
    """Make ``table_keys``: a row per published table that has rows, with what its keys are.

    Keys are counted here, for every row: great-expectations would take each key column of each
    table into Python for it, and holds what was counted against what a release must be.
    """
    con.execute("CREATE OR REPLACE TEMP TABLE table_keys (table_name VARCHAR, keys VARCHAR)")
    keyed = {table.name: _keys_of(table) for table in tables if table.primary_key}
    rows = count_rows(con, keyed)
    short = [query for name, query in keyed.items() if rows[name] < WORTH_A_LOOK]
    # To prepare a statement takes longer than to look at a few rows; long tables come one by one.
    together = [" UNION ALL ".join(short)] if short else []
    for query in (*together, *(keyed[name] for name in keyed if rows[name] >= WORTH_A_LOOK)):
        con.execute(f"INSERT INTO table_keys {query}")


def _keys_of(table: Table) -> str:
    """Give the query of a table's row in ``table_keys``; no row where the table has none."""
    name = literal(table.name)
    columns = [identifier(column) for column in table.primary_key]
    missing = " OR ".join(f"{column} IS NULL" for column in columns)
    return (
        f"SELECT {name}, CASE"
        f" WHEN count(*) FILTER ({missing}) > 0 THEN {name} || ' has rows without their key'"
        f" WHEN count(DISTINCT ({', '.join(columns)})) < count(*)"
        f" THEN {name} || ' has rows with the same key'"
        f" ELSE '{EACH_ITS_OWN}' END FROM {identifier(table.name)} HAVING count(*) > 0"
    )


def _unsound_keys(con: duckdb.DuckDBPyConnection) -> str:
    query = "SELECT keys FROM table_keys WHERE keys <> ? ORDER BY keys"
    return "; ".join(keys for (keys,) in con.execute(query, [EACH_ITS_OWN]).fetchall())


def _views(con: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    return tuple(name for name, needed in _NEEDS.items() if column_names(con, needed))


def _rows_before(previous: Previous) -> dict[str, int]:
    held = previous.descriptor.get("rigledger", {}).get("rows", {})
    paths = previous.paths()
    return {name: int(n) for name, n in held.items() if paths.get(name, "").startswith("data/")}


def _run(
    con: duckdb.DuckDBPyConnection,
    suite: tuple[Expectation, ...],
    remembered: Remembered,
    judges: Judges,
) -> dict[str, dict[str, Any]]:
    """Evaluate the suite table by table, on the columns that each table's expectations name."""
    by_table = defaultdict(list)
    for item in suite:
        by_table[item.table].append(item)
    with TemporaryDirectory(prefix="rigledger-") as scratch:
        asked = []
        for table, items in sorted(by_table.items()):
            rows = _write_rows(con, table, items, Path(scratch))
            listed = [item.as_dict() for item in items]
            key = key_of("expectations", versions_of(*_FOLLOWS_FROM), listed, sha256_of(rows))
            begin = partial(judges.ask, EVALUATE, str(rows), listed)
            asked.append(remembered.later(key, begin))
        answers = [wait() for wait in asked]
    return {name: held for answer in answers for name, held in answer.items()}


def _write_rows(
    con: duckdb.DuckDBPyConnection, table: str, items: list[Expectation], folder: Path
) -> Path:
    """Write the rows of a table, with the columns that some expectations name."""
    path = folder / f"{table}.parquet"
    query = f"SELECT {_columns(con, table, items)} FROM {identifier(table)}"
    con.execute(f"COPY ({query}) TO {literal(path.as_posix())} (FORMAT parquet)")
    return path


def _columns(con: duckdb.DuckDBPyConnection, table: str, items: list[Expectation]) -> str:
    """List the columns that some expectations name, or one, where they ask of rows alone."""
    named = {name for item in items for name in _named(item.arguments)}
    held = column_names(con, table)
    return ", ".join(identifier(name) for name in held if name in named) or identifier(held[0])


def _named(arguments: Mapping[str, Any]) -> Iterator[str]:
    for name in ("column", "column_A", "column_B"):
        if name in arguments:
            yield arguments[name]


def _refuse_failed_gates(
    suite: tuple[Expectation, ...],
    results: Mapping[str, Mapping[str, Any]],
    told: Mapping[str, str],
) -> None:
    """Refuse a release; ``told`` says more of what was found in a table than its results do."""
    for item in suite:
        if item.gates and not results[item.name]["met"]:
            found = told.get(item.table) or str(results[item.name]["found"])
            raise ReleaseError(
                f"an expectation that every release must meet is not met: {item.why}",
                file=item.table, column=item.name, value=found,
                next_step="correct the tables; nothing was published",
            )  # fmt: skip
