"""Runs the expectations on a release with great-expectations and keeps suite and results."""

from __future__ import annotations

import os
import warnings
from collections import defaultdict
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier
from rigledger.errors import MissingExtraError
from rigledger.release.drift import ROWS_LOST, drift_limits, make_drift, read_bands
from rigledger.release.errors import ReleaseError
from rigledger.release.expectations import Against, Expectation, expectations
from rigledger.tabular import column_names

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import date

    import duckdb

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


def assess(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    published: tuple[Published, ...],
    previous: Previous | None,
    released_on: date,
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Hold a release against its expectations.

    Args:
        con: Connection with the typed source and derived tables and ``changes``.
        design: The design as published.
        published: The source and derived tables.
        previous: The earlier release, for the drift against it.
        released_on: Day of this one, which tells the bands that hold.

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
        results = _run(con, suite)
    _refuse_failed_gates(suite, results)
    return (
        {"expectations": [item.as_dict() for item in suite]},
        {
            "rows": {held.table.name: rows[held.table.name] for held in published},
            "results": [results[item.name] for item in suite],
            "met": sum(bool(held["met"]) for held in results.values()),
            "expected": len(suite),
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
    _make_views(con)
    rows = table_rows(con, (*(held.table.name for held in published), *_views(con)))
    tables = tuple(held.table for held in published)
    against = _against(con, previous, released_on)
    return expectations(design, tables, rows, against), rows


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
    con: duckdb.DuckDBPyConnection, suite: tuple[Expectation, ...]
) -> dict[str, dict[str, Any]]:
    """Evaluate the suite table by table; results come back in another order, so they are named."""
    by_table = defaultdict(list)
    for item in suite:
        by_table[item.table].append(item)
    context, gx = _context()
    source = context.data_sources.add_pandas("release")
    found: dict[str, dict[str, Any]] = {}
    for table, items in sorted(by_table.items()):
        frame = con.sql(f"FROM {identifier(table)}").df()
        batch = source.add_dataframe_asset(table).add_batch_definition_whole_dataframe("all")
        made = gx.ExpectationSuite(name=table, expectations=[_made(gx, item) for item in items])
        outcome = batch.get_batch({"dataframe": frame}).validate(made).to_json_dict()
        named = {held["expectation_config"]["meta"]["name"]: held for held in outcome["results"]}
        found |= {item.name: _result(item, named[item.name]) for item in items}
    return found


def _made(gx: Any, item: Expectation) -> Any:  # noqa: ANN401 - the library ships no types
    """Make an expectation that carries its name: results come back in another order."""
    return getattr(gx.expectations, item.kind)(**item.arguments, meta={"name": item.name})


def _context() -> tuple[Any, Any]:
    """Make a context that keeps nothing, sends nothing and draws nothing."""
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
    return context, gx


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
    suite: tuple[Expectation, ...], results: Mapping[str, Mapping[str, Any]]
) -> None:
    for item in suite:
        if item.gates and not results[item.name]["met"]:
            raise ReleaseError(
                f"an expectation that every release must meet is not met: {item.why}",
                file=item.table, column=item.name, value=str(results[item.name]["found"]),
                next_step="correct the tables; nothing was published",
            )  # fmt: skip
