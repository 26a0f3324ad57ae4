"""Tables that many rules read, made once: runs with their cells, cells, blocks, pairs of values."""

from __future__ import annotations

from functools import partial
from string import Template
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text
from rigledger.intake.blocks import Held, aggregates_of, cell_names, make_blocks, quoted, work
from rigledger.intake.plain_form import enum_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import duckdb

    from rigledger.contract.model import Contract, Metric
    from rigledger.intake.readset import TextSet
    from rigledger.side import Side


def make_cells(
    con: duckdb.DuckDBPyConnection, side: Side, given: Sequence[str], contract: Contract
) -> None:
    """Create the working tables and views of the schema ``handed``.

    They are ``stacked``, ``located``, ``placed``, ``block_sums``, ``blocks``, ``cells``,
    ``partnered``, ``cell_values``, ``rate_means``, ``mixes``, ``extremes``, ``run_sessions``,
    ``names``, ``resolutions``, ``repeated``, ``low_pairs``, ``low_means``, ``frame_pairs``,
    ``rates``, ``texts`` and ``text_cells``; sql/work/ says what each holds.

    Args:
        con: The database, with ``handed.runs`` and ``handed.sessions``.
        side: Where what follows from the runs alone is made beside the cells.
        given: The metrics that the set has.
        contract: The contract.
    """
    names = list(given) or list(contract.metrics)[:1]
    small = side.pool is None
    con.execute(work("stacked"))
    stacked = in_words(con, "handed.stacked", ("rig", "session"))
    if stacked != _as_it_is("handed.stacked"):
        con.execute(f"CREATE OR REPLACE TABLE handed.stacked AS {stacked}")
    con.execute(work("located"))
    overview = side.begin(partial(_make_overview, names=names, kind=_kind(small=small)))
    make_blocks(con, [contract.metrics[name] for name in names], contract, small=small)
    _make_cells(con, names, small=small)
    con.execute(work("repeated"))
    overview.result()
    _make_pairs(con, [contract.metrics[name] for name in given])


def _kind(*, small: bool) -> str:
    """Give what a relation becomes that is read a few times: of few rows a table is sooner read."""
    return "TABLE" if small else "VIEW"


def _make_cells(con: duckdb.DuckDBPyConnection, names: list[str], *, small: bool) -> None:
    filled = [cell_names(name) for name in names]
    several = small or con.execute(work("cells_of_more_sessions")).fetchone() is not None
    made = Template(work("cells" if several else "cells_of_one_session"))
    parts = {
        "aggregates": ",\n    ".join(aggregates_of(Held(name)) for name in names),
        "alike": " AND ".join(
            f"coalesce({one['lowest']} = {one['highest']}, true)" for one in filled
        ),
    }
    con.execute(made.substitute(parts))
    con.execute(work("placed"))
    con.execute(work("partnered"))
    rows = Template(work("cell_values"))
    _make_view(con, "cell_values", [rows.substitute(one) for one in filled])


def _make_overview(con: duckdb.DuckDBPyConnection, names: list[str], kind: str) -> None:
    """Create the small tables by which most rules are seen to have nothing to find."""
    filled = [cell_names(name) for name in names]
    aggregates, rows = Template(work("mix_aggregates")), Template(work("extremes"))
    each = ",\n  ".join(aggregates.substitute(one).rstrip() for one in filled)
    con.execute(Template(work("mixes")).substitute(aggregates=each))
    con.execute(
        f"CREATE {kind} handed.extremes AS\n"
        + "UNION ALL\n".join(rows.substitute(one) for one in filled)
    )
    whole = (f"coalesce(bool_and({value} = round({value})), false)" for value in quoted(names))
    con.execute(Template(work("run_sessions")).substitute(whole=" OR ".join(whole)))
    for name in ("names", "resolutions", "text_cells", "texts", "rates"):
        con.execute(Template(work(name)).substitute(kind=kind))


def present_metrics(held: TextSet, contract: Contract) -> list[str]:
    """Give the metrics that a set's runs have columns for, in the contract's order."""
    return [name for name in contract.metrics if name in held.present.get("runs", ())]


def _make_pairs(con: duckdb.DuckDBPyConnection, metrics: list[Metric]) -> None:
    """Create the views of two values of one run or cell, side by side in a row.

    ``low_pairs`` has each average frame rate beside each low, ``low_means`` the same for the means
    of cells, ``frame_pairs`` each rate that is weighted by frame beside each other one;
    ``rate_means`` has the means of frame rates with no tail.
    """
    rates = [item for item in metrics if item.unit == "fps"]
    whole = [item for item in rates if item.tail_rule == "none"]
    averages = [item for item in whole if item.weighting == "time"]
    lows = [item for item in rates if item.tail_pct is not None and item.tail_pct < 50]
    by_frame = [item for item in rates if item.weighting == "frame"]
    low_pairs = [(one, two) for one in averages for two in lows]
    frame_pairs = [(one, two) for one in by_frame for two in by_frame if one != two]
    _make_view(con, "low_pairs", [_pair(*pair) for pair in low_pairs])
    _make_view(con, "frame_pairs", [_pair(*pair) for pair in frame_pairs])
    _make_view(con, "low_means", [_means(*pair) for pair in low_pairs])
    rows = Template(work("rate_means"))
    _make_view(con, "rate_means", [rows.substitute(cell_names(item.metric)) for item in whole])


def make_capped(con: duckdb.DuckDBPyConnection, given: Iterable[str], contract: Contract) -> None:
    """Create ``handed.at_rate`` once ``handed.rates`` holds all rates: the cells held at one.

    Cells that have a value in doubt are left out, also where the doubt comes later.
    """
    rows = Template(work("at_rate"))
    metrics = (contract.metrics[name] for name in given)
    whole = [item.metric for item in metrics if item.unit == "fps" and item.tail_rule == "none"]
    # Looked for once: rates are compared with every cell.
    _make_view(con, "capped", [rows.substitute(cell_names(name)) for name in whole], kind="TABLE")
    con.execute(
        "CREATE VIEW handed.at_rate AS SELECT c.* FROM handed.capped AS c"
        " ANTI JOIN handed.doubted AS d ON d.cell = c.cell AND d.metric = c.metric"
    )


def in_words(con: duckdb.DuckDBPyConnection, relation: str, columns: Sequence[str]) -> str:
    """Give the query of a small relation with columns in the types that ``handed.runs`` has.

    Names that are numbered are found faster than names that are read. A column with a further name
    stays text.
    """
    described = con.execute(f"SELECT {', '.join(columns)} FROM handed.runs LIMIT 0").description
    enums = [item[0] for item in described or () if item[1].id == "enum"]
    if not enums:
        return _as_it_is(relation)
    casts = {name: f"TRY_CAST({name} AS {enum_of(name)})" for name in enums}
    lost = ", ".join(f"count({name}) > count({cast})" for name, cast in casts.items())
    row = con.execute(f"SELECT {lost} FROM {relation}").fetchone() or ()
    same = (name for name, more in zip(casts, row, strict=True) if not more)
    replaced = [f"{casts[name]} AS {name}" for name in same]
    other = f" REPLACE ({', '.join(replaced)})" if replaced else ""
    return f"SELECT *{other} FROM {relation}"


def _as_it_is(relation: str) -> str:
    return f"SELECT * FROM {relation}"


def _pair(one: Metric, two: Metric) -> str:
    first, second = identifier(one.metric), identifier(two.metric)
    return (
        f"SELECT _row, {text(one.metric)} AS metric, {first} AS value,"
        f" {text(two.metric)} AS other, {second} AS other_value FROM handed.runs"
        f" WHERE {first} IS NOT NULL AND {second} IS NOT NULL"
    )


def _means(average: Metric, low: Metric) -> str:
    first, second = cell_names(average.metric), cell_names(low.metric)
    return Template(work("low_means")).substitute(
        average=first["metric"],
        average_ln=first["mean"],
        metric=second["metric"],
        low_ln=second["mean"],
    )


# The columns of a view where the set has no metric that belongs into it.
_EMPTY = {
    "low_means": "rig VARCHAR, metric VARCHAR, low_ln DOUBLE, average_ln DOUBLE",
    "rate_means": "metric VARCHAR, series UBIGINT, rig VARCHAR, workload VARCHAR, level VARCHAR,"
    " resolution VARCHAR, pixels BIGINT, runs BIGINT, mean_ln DOUBLE, variance_ln DOUBLE,"
    " first_row BIGINT",
    "capped": "cell BIGINT, metric VARCHAR, rig VARCHAR, workload VARCHAR, resolution VARCHAR,"
    " level VARCHAR, first_row BIGINT, mean_ln DOUBLE, rate DOUBLE, common BOOLEAN",
    "": "_row BIGINT, metric VARCHAR, value DOUBLE, other VARCHAR, other_value DOUBLE",
}


def _make_view(
    con: duckdb.DuckDBPyConnection, name: str, parts: Iterable[str], *, kind: str = "VIEW"
) -> None:
    shape = _EMPTY.get(name, _EMPTY[""]).split(", ")
    columns = (column.split(" ") for column in shape)
    nulls = ", ".join(f"NULL::{type_} AS {column}" for column, type_ in columns)
    made = "\nUNION ALL\n".join(list(parts) or [f"SELECT {nulls} WHERE false"])
    con.execute(f"CREATE {kind} handed.{name} AS\n{made}")
