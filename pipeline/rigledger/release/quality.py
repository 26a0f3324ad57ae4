"""Runs the expectations on a release with great-expectations and keeps suite and results."""

from __future__ import annotations

import hashlib
import os
import warnings
from collections import defaultdict
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier
from rigledger.errors import MissingExtraError
from rigledger.release.drift import ROWS_LOST, drift_limits, make_drift, read_bands
from rigledger.release.errors import ReleaseError
from rigledger.release.expectations import (
    EACH_ITS_OWN,
    Against,
    Expectation,
    expectations,
)
from rigledger.release.published import WRITTEN_BY_RELEASE
from rigledger.release.sampled import read_in_part
from rigledger.remembered import Remembered, key_of, versions_of
from rigledger.tabular import column_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping
    from datetime import date

    import duckdb

    from rigledger.contract.model import Table
    from rigledger.release.differences import Previous
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
_KEPT = (
    "element_count", "missing_count", "observed_value", "unexpected_count", "unexpected_percent",
)  # fmt: skip
_FOLLOWS_FROM = ("great-expectations", "pandas", "numpy")


def assess(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    published: tuple[Published, ...],
    previous: Previous | None,
    released_on: date,
    *,
    remembered: Remembered | None = None,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Hold a release against its expectations.

    Args:
        con: Connection with the typed source and derived tables and ``changes``.
        design: The design as published.
        published: The source and derived tables.
        previous: The earlier release, for the drift against it.
        released_on: Day of this one, which tells the bands that hold.
        remembered: What was found for the same expectations on the same rows.

    Returns:
        The suite and its results as JSON values, both without ids and times.

    Raises:
        ReleaseError: A gating expectation fails, or one could not be evaluated.
        MissingExtraError: great-expectations is not installed.
    """
    suite, rows = suite_of(con, design, published, previous, released_on)
    with warnings.catch_warnings():
        # Its own deprecations, and those of what it imports, are no concern of a release.
        warnings.simplefilter("ignore")
        results = _run(con, suite, remembered or Remembered())
    _refuse_failed_gates(suite, results, {"table_keys": _unsound_keys(con)})
    written = [name for name in WRITTEN_BY_RELEASE if column_names(con, name)]
    counted = {name: n for name, n in rows.items() if name in {h.table.name for h in published}}
    in_part = read_in_part(counted | table_rows(con, written))
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
    rows = table_rows(con, (*(table.name for table in tables), *_views(con), "table_keys"))
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
    for table in tables:
        if not table.primary_key:
            continue
        columns = [identifier(name) for name in table.primary_key]
        missing = " OR ".join(f"{column} IS NULL" for column in columns)
        con.execute(
            "INSERT INTO table_keys SELECT $name, CASE"
            f" WHEN count(*) FILTER ({missing}) > 0 THEN $name || ' has rows without their key'"
            f" WHEN count(DISTINCT ({', '.join(columns)})) < count(*)"
            " THEN $name || ' has rows with the same key'"
            f" ELSE '{EACH_ITS_OWN}' END FROM {identifier(table.name)} HAVING count(*) > 0",
            {"name": table.name},
        )


def _unsound_keys(con: duckdb.DuckDBPyConnection) -> str:
    query = "SELECT keys FROM table_keys WHERE keys <> ? ORDER BY keys"
    return "; ".join(keys for (keys,) in con.execute(query, [EACH_ITS_OWN]).fetchall())


def _views(con: duckdb.DuckDBPyConnection) -> tuple[str, ...]:
    return tuple(name for name, needed in _NEEDS.items() if column_names(con, needed))


def table_rows(con: duckdb.DuckDBPyConnection, names: Iterable[str]) -> dict[str, int]:
    """Count the rows of some tables."""
    found = {}
    for name in names:
        ((count,),) = con.execute(f"SELECT count(*) FROM {identifier(name)}").fetchall()
        found[name] = int(count)
    return found


def _rows_before(previous: Previous) -> dict[str, int]:
    held = previous.descriptor.get("rigledger", {}).get("rows", {})
    paths = previous.paths()
    return {name: int(n) for name, n in held.items() if paths.get(name, "").startswith("data/")}


def _run(
    con: duckdb.DuckDBPyConnection, suite: tuple[Expectation, ...], remembered: Remembered
) -> dict[str, dict[str, Any]]:
    """Evaluate the suite table by table, on the columns that each table's expectations name."""
    by_table = defaultdict(list)
    for item in suite:
        by_table[item.table].append(item)
    found: dict[str, dict[str, Any]] = {}
    for table, items in sorted(by_table.items()):
        query = f"SELECT {_columns(con, table, items)} FROM {identifier(table)}"
        asked = [item.as_dict() for item in items]
        key = key_of("expectations", versions_of(*_FOLLOWS_FROM), asked, _hash(con, query))
        found |= remembered.recall(key, lambda: _outcomes(con, query, items))  # noqa: B023
    return found


def _columns(con: duckdb.DuckDBPyConnection, table: str, items: list[Expectation]) -> str:
    """List the columns that some expectations name, or one, where they ask of rows alone."""
    named = {name for item in items for name in _named(item.arguments)}
    held = column_names(con, table)
    return ", ".join(identifier(name) for name in held if name in named) or identifier(held[0])


def _named(arguments: Mapping[str, Any]) -> Iterator[str]:
    for name in ("column", "column_A", "column_B"):
        if name in arguments:
            yield arguments[name]


def _hash(con: duckdb.DuckDBPyConnection, query: str) -> str:
    """Hash the rows that a query gives, with names and types."""
    import pyarrow as pa

    rows = con.sql(query).to_arrow_table().combine_chunks()
    sink = pa.BufferOutputStream()
    with pa.ipc.new_stream(sink, rows.schema) as stream:
        stream.write_table(rows)
    return hashlib.sha256(sink.getvalue()).hexdigest()


def _outcomes(
    con: duckdb.DuckDBPyConnection, query: str, items: list[Expectation]
) -> dict[str, dict[str, Any]]:
    """Evaluate expectations on a query's rows; results come back in another order, so named."""
    gx, rows = _great_expectations()
    suite = gx.ExpectationSuite(name="rows", expectations=[_made(gx, item) for item in items])
    frame = con.sql(query).df()
    outcome = rows.get_batch({"dataframe": frame}).validate(suite).to_json_dict()
    named = {held["expectation_config"]["meta"]["name"]: held for held in outcome["results"]}
    return {item.name: _result(item, named[item.name]) for item in items}


def _made(gx: Any, item: Expectation) -> Any:  # noqa: ANN401 - the library ships no types
    """Make an expectation that carries its name: results come back in another order."""
    return getattr(gx.expectations, item.kind)(**item.arguments, meta={"name": item.name})


@cache
def _great_expectations() -> tuple[Any, Any]:
    """Load it and set it up once: nothing is kept, sent or drawn.

    Returns:
        The package, and a definition of a batch that takes any frame.
    """
    os.environ["GX_ANALYTICS_ENABLED"] = "false"
    try:
        import great_expectations as gx
        import great_expectations.expectations
        from great_expectations.data_context.types.base import ProgressBarsConfig
    except ImportError as error:
        raise MissingExtraError(
            "making a release needs great-expectations",
            next_step="pip install 'rigledger[curator]'",
        ) from error
    context = gx.get_context(mode="ephemeral")
    context.variables.progress_bars = ProgressBarsConfig(globally=False)
    source = context.data_sources.add_pandas("release")
    return gx, source.add_dataframe_asset("rows").add_batch_definition_whole_dataframe("all")


def _result(item: Expectation, outcome: Mapping[str, Any]) -> dict[str, Any]:
    """Keep of an outcome what is the same on every run; look at exceptions first."""
    raised = _exception(outcome.get("exception_info") or {})
    if raised:
        raise ReleaseError(
            f"the expectation could not be evaluated: {raised}", file=item.table, column=item.name,
            next_step="this is a fault of the program or of the tables' types, not of the data",
        )  # fmt: skip
    held = outcome["result"]
    return {
        "name": item.name,
        "met": bool(outcome["success"]),
        "found": {
            key: value for key in _KEPT if (value := _plain(held.get(key))) not in (None, [])
        },
    }


def _plain(value: Any) -> Any:  # noqa: ANN401 - a number, a word, a list or an array of them
    """Give an array as a list: a column without values gives an empty one."""
    return value.tolist() if hasattr(value, "tolist") else value


def _exception(info: Mapping[str, Any]) -> str | None:
    """Find a raised exception in both shapes that great-expectations uses."""
    if info.get("raised_exception"):
        return str(info.get("exception_message"))
    nested = (held for held in info.values() if isinstance(held, dict))
    return next(
        (str(h.get("exception_message")) for h in nested if h.get("raised_exception")), None
    )


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
