"""Tables that many rules read, made once: runs with their cells, cells, blocks, pairs of values."""

from __future__ import annotations

from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text

if TYPE_CHECKING:
    from collections.abc import Iterable

    import duckdb

    from rigledger.contract.model import Contract, Metric
    from rigledger.intake.readset import TextSet


def make_cells(con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract) -> None:
    """Create the working tables and views of the schema ``handed``.

    They are ``stacked``, ``located``, ``placed``, ``blocks``, ``cells``, ``cell_values``,
    ``mixes``, ``extremes``, ``run_sessions``, ``names``, ``low_pairs``, ``frame_pairs``, ``texts``
    and ``text_cells``; sql/work/ says what each holds.

    Args:
        con: The database, with ``handed.runs`` and ``handed.sessions``.
        held: The set, which says which metrics it has.
        contract: The contract.
    """
    given = present_metrics(held, contract)
    names = given or list(contract.metrics)[:1]
    columns = ",\n  ".join(_quoted(names))
    con.execute(_work("stacked"))
    con.execute(Template(_work("located")).substitute(metrics=columns))
    con.execute(_work("placed"))
    con.execute(Template(_work("blocks")).substitute(_block_parts(names, contract)))
    filled = [_cell_names(name) for name in names]
    aggregates = Template(_work("cell_aggregates"))
    each = ",\n".join(aggregates.substitute(one).rstrip() for one in filled)
    con.execute(Template(_work("cells")).substitute(aggregates=each.lstrip(), alike=_alike(names)))
    rows = Template(_work("cell_values"))
    _make_view(con, "cell_values", (rows.substitute(one) for one in filled))
    _make_overview(con, names)
    con.execute(_work("texts"))
    _make_pairs(con, [contract.metrics[name] for name in given])


def _make_overview(con: duckdb.DuckDBPyConnection, names: list[str]) -> None:
    """Create the small tables by which most rules are seen to have nothing to find."""
    filled = [_cell_names(name) for name in names]
    aggregates, rows = Template(_work("mix_aggregates")), Template(_work("extremes"))
    each = ",\n  ".join(aggregates.substitute(one).rstrip() for one in filled)
    con.execute(Template(_work("mixes")).substitute(aggregates=each))
    con.execute(
        "CREATE VIEW handed.extremes AS\n"
        + "UNION ALL\n".join(rows.substitute(one) for one in filled)
    )
    whole = (f"coalesce(bool_and({value} = round({value})), false)" for value in _quoted(names))
    con.execute(Template(_work("run_sessions")).substitute(whole=" OR ".join(whole)))
    con.execute(_work("names"))


def _quoted(names: list[str]) -> list[str]:
    return [identifier(name) for name in names]


def _alike(names: list[str]) -> str:
    return " AND ".join(f"coalesce(min({one}) = max({one}), true)" for one in _quoted(names))


def present_metrics(held: TextSet, contract: Contract) -> list[str]:
    """Give the metrics that a set's runs have columns for, in the contract's order."""
    return [name for name in contract.metrics if name in held.present.get("runs", ())]


def readings(contract: Contract, present: Iterable[str]) -> str:
    """Give the SQL of all values of a run as the arguments of a hash, absent metrics as null."""
    held = set(present)
    return ", ".join(
        identifier(name) if name in held else "NULL::DOUBLE" for name in contract.metrics
    )


def _block_parts(names: list[str], contract: Contract) -> dict[str, str]:
    columns = _quoted(names)
    return {
        "readings": readings(contract, names),
        "filled": f"coalesce({', '.join(columns)}) IS NOT NULL",
        "differs": " OR ".join(f"coalesce(min({name}) < max({name}), false)" for name in columns),
        "highest": f"greatest({', '.join(f'max({name})' for name in columns)})",
    }


def _cell_names(metric: str) -> dict[str, str]:
    """Name the columns of ``handed.cells`` that hold one metric."""
    parts = ("runs", "lowest", "highest", "mean", "variance")
    columns = {part: identifier(f"{part} of {metric}") for part in parts}
    return columns | {"metric": text(metric), "value": identifier(metric)}


def _make_pairs(con: duckdb.DuckDBPyConnection, metrics: list[Metric]) -> None:
    """Create the views of two values of one run, side by side in a row.

    ``low_pairs`` has each average frame rate beside each low, ``frame_pairs`` each rate that is
    weighted by frame beside each other one.
    """
    rates = [item for item in metrics if item.unit == "fps"]
    averages = [item for item in rates if item.tail_rule == "none" and item.weighting == "time"]
    lows = [item for item in rates if item.tail_pct is not None and item.tail_pct < 50]
    by_frame = [item for item in rates if item.weighting == "frame"]
    _make_view(con, "low_pairs", (_pair(one, two) for one in averages for two in lows))
    _make_view(
        con, "frame_pairs", (_pair(one, two) for one in by_frame for two in by_frame if one != two)
    )


def _pair(one: Metric, two: Metric) -> str:
    first, second = identifier(one.metric), identifier(two.metric)
    return (
        f"SELECT _row, {text(one.metric)} AS metric, {first} AS value,"
        f" {text(two.metric)} AS other, {second} AS other_value FROM handed.located"
        f" WHERE {first} IS NOT NULL AND {second} IS NOT NULL"
    )


def _make_view(con: duckdb.DuckDBPyConnection, name: str, parts: Iterable[str]) -> None:
    nothing = (
        "SELECT NULL::BIGINT AS _row, NULL::VARCHAR AS metric, NULL::DOUBLE AS value,"
        " NULL::VARCHAR AS other, NULL::DOUBLE AS other_value WHERE false"
    )
    con.execute(f"CREATE VIEW handed.{name} AS " + "\nUNION ALL\n".join(list(parts) or [nothing]))


def _work(name: str) -> str:
    place = files("rigledger.intake").joinpath("sql", "work", f"{name}.sql")
    return place.read_text(encoding="utf-8")
