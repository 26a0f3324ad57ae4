"""Sums over blocks, a block being a cell in its session: one pass over the runs for most rules."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text

if TYPE_CHECKING:
    from collections.abc import Iterable

    import duckdb

    from rigledger.contract.model import Contract, Metric

_FEW_PASSES = 3
_MEASURED = "role = 'measured' AS measured,\n    "
_OF_CELLS = ("runs", "lowest", "highest", "mean", "variance")


@dataclass(frozen=True, slots=True)
class Held:
    """What is known of a column of the runs; what is not known may be otherwise.

    Attributes:
        name: The column.
        positive: Whether all its values are above zero.
        whole: Whether no run lacks it.
    """

    name: str
    positive: bool = False
    whole: bool = False

    @property
    def value(self) -> str:
        """Its positive values; null where there is none."""
        column = identifier(self.name)
        return column if self.positive else f"if({column} > 0, {column}, NULL)"

    @property
    def everywhere(self) -> bool:
        """Whether every run has a positive value."""
        return self.positive and self.whole


def make_blocks(
    con: duckdb.DuckDBPyConnection,
    metrics: list[Metric],
    contract: Contract,
    *,
    small: bool = False,
) -> None:
    """Create ``handed.block_sums`` and ``handed.blocks``.

    Args:
        con: The database, with ``handed.runs`` and ``handed.stacked``.
        metrics: The metrics that the set has, at least one.
        contract: The contract.
        small: Whether the runs are few: then it isn't worth while to ask what is known of them.
    """
    names = [item.metric for item in metrics]
    if small:
        shared, held, few = _unknown(names), {name: Held(name) for name in (*names, "pass")}, False
    else:
        held, passes = _held(con, names)
        few = passes <= _FEW_PASSES
        shared = _keys(con) | _filled(con, names, held)
    parts = shared | _parts(metrics, contract, held, few=few)
    con.execute(Template(work("block_sums")).substitute(parts))
    if few and _crowded(con, [item.metric for item in metrics if has_order(item)]):
        parts = shared | _parts(metrics, contract, held, few=False)
        con.execute("DROP TABLE handed.block_sums")
        con.execute(Template(work("block_sums")).substitute(parts))
    con.execute(Template(work("blocks")).substitute(parts))


def _held(con: duckdb.DuckDBPyConnection, metrics: list[str]) -> tuple[dict[str, Held], int]:
    """Tell what is known of the metrics and of ``pass``, and the last pass.

    The fewer conditions there are in them, the quicker the many aggregates over all runs are.
    """
    names = [*metrics, "pass"]
    asked = ", ".join(
        f"coalesce(min({column}) > 0, true), count({column}) = count(*)" for column in quoted(names)
    )
    row = con.execute(f"SELECT {asked}, max(pass) FROM handed.runs").fetchone() or ()
    held = zip(names, row[:-1:2], row[1:-1:2], strict=True)
    return {name: Held(name, *known) for name, *known in held}, row[-1] or 0


def _keys(con: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Tell which of the columns that are one text in most sets is so in all runs.

    Blocks are then found by fewer columns, which is quicker.
    """
    build, measured = _only(con, "title_build"), _only(con, "role") == "measured"
    return {
        "keys": "title_build, " if build is None else "",
        "measured": "" if measured else _MEASURED,
        "same": (f", {text(build)} AS title_build" if build is not None else "")
        + (", true AS measured" if measured else ""),
    }


def _only(con: duckdb.DuckDBPyConnection, column: str) -> str | None:
    """Give the text that a column has in all runs; None where it has several or lacks any."""
    row = con.execute(f"SELECT {column} FROM handed.runs LIMIT 1").fetchone()
    if row is None or row[0] is None:
        return None
    query = f"SELECT 1 FROM handed.runs WHERE {column} IS DISTINCT FROM {text(row[0])} LIMIT 1"
    return None if con.execute(query).fetchone() else str(row[0])


def _unknown(metrics: list[str]) -> dict[str, str]:
    """Give what holds of any runs in place of what `_keys` and `_filled` give."""
    filled = f"coalesce({', '.join(quoted(metrics))})"
    return {
        "keys": "title_build, ",
        "measured": _MEASURED,
        "same": "",
        "passes": "count(pass)",
        "filled": f"count({filled})",
        "has_any": f" FILTER ({filled} IS NOT NULL)",
    }


def _filled(
    con: duckdb.DuckDBPyConnection, metrics: list[str], held: dict[str, Held]
) -> dict[str, str]:
    """Give how runs with a value are counted, and their readings hashed."""
    filled = f"coalesce({', '.join(quoted(metrics))})"
    query = f"SELECT 1 FROM handed.runs WHERE {filled} IS NULL LIMIT 1"
    everywhere = any(held[name].whole for name in metrics) or not con.execute(query).fetchone()
    return {
        "passes": "count(*)" if held["pass"].whole else "count(pass)",
        "filled": "count(*)" if everywhere else f"count({filled})",
        "has_any": "" if everywhere else f" FILTER ({filled} IS NOT NULL)",
    }


def _parts(
    metrics: list[Metric], contract: Contract, held: dict[str, Held], *, few: bool
) -> dict[str, str]:
    """Give what goes into the queries of blocks.

    ``few`` says that no block has more than three runs: of those it is told by their hashes alone
    whether the lowest value stands there twice.
    """
    names = [item.metric for item in metrics]
    columns = [cell_names(name) for name in names]
    in_order = [item.metric for item in metrics if has_order(item)]
    parts = [aggregates_of(held[name]) for name in names]
    parts += [_order_aggregates(held[name], held["pass"], few=few) for name in in_order]
    return {
        "readings": readings(contract, names),
        "aggregates": ",\n  ".join(parts),
        "ordered": _ordered(in_order, few=few),
        "differs": " OR ".join(
            f"coalesce({one['lowest']} < {one['highest']}, false)" for one in columns
        ),
        "highest_of_all": f"greatest({', '.join(one['highest'] for one in columns)})",
    }


def aggregates_of(held: Held) -> str:
    """Give the aggregates of one metric: number, mean and variance of its positive values."""
    count = "count(*)" if held.everywhere else f"count({held.value})"
    given = {"count": count, "value": identifier(held.name), "positive": held.value}
    return Template(work("metric_aggregates")).substitute(cell_names(held.name) | given).rstrip()


def _order_aggregates(held: Held, passes: Held, *, few: bool) -> str:
    """Give the aggregates over a metric's positive values in runs that have a pass."""
    value = held.value if passes.whole else f"if(pass IS NOT NULL, {held.value}, NULL)"
    every = held.everywhere and passes.whole
    given = block_columns(held.name) | {
        "count": "count(*)" if every else f"count({value})",
        "row": "_row" if every else f"if({value} IS NOT NULL, _row, NULL)",
        "positive": held.value,
        "seen": f"bit_xor(hash({value}))" if few else f"min({value}, 2)",
        "values": _seen(held.name),
    }
    return Template(work("order_aggregates")).substitute(given).rstrip()


def _seen(metric: str) -> str:
    return identifier(f"values of {metric}")


def _ordered(metrics: list[str], *, few: bool) -> str:
    """Give the lowest value of each metric, and whether it stands in a block but once.

    Of three values the hashes of two equal ones cancel, which leaves that of the third.
    """
    made = []
    for name in metrics:
        seen, cell, block = _seen(name), cell_names(name), block_columns(name)
        least = cell["lowest"] if few else f"{seen}[1]"
        alone = f"{seen} <> hash({cell['highest']})" if few else f"{seen}[1] < {seen}[2]"
        made += [f"{least} AS {block['least']}", f"{alone} AS {block['alone']}"]
    return f"EXCLUDE ({', '.join(map(_seen, metrics))}), {', '.join(made)}" if made else ""


def _crowded(con: duckdb.DuckDBPyConnection, metrics: list[str]) -> bool:
    """Whether a block has more runs than passes, or some without a pass or a value."""
    counts = [block_columns(name)["numbered"] for name in metrics]
    crowded = [f"{count} >= {_FEW_PASSES} AND runs <> {_FEW_PASSES}" for count in counts]
    if not crowded:
        return False
    where = " OR ".join(f"({one})" for one in crowded)
    query = f"SELECT 1 FROM handed.block_sums WHERE measured AND ({where}) LIMIT 1"
    return con.execute(query).fetchone() is not None


def has_order(metric: Metric) -> bool:
    """Whether a metric's values are looked at in the order of their passes: averages are."""
    return metric.tail_rule == "none" and metric.direction == "higher"


def block_columns(metric: str) -> dict[str, str]:
    """Name the columns of ``handed.block_sums`` that hold a metric in the order of the passes."""
    parts = ("numbered", "first_row", "first", "last", "least", "alone")
    return {part: identifier(f"{part} of {metric}") for part in parts}


def quoted(names: list[str]) -> list[str]:
    """Quote the names of columns."""
    return [identifier(name) for name in names]


def readings(contract: Contract, present: Iterable[str]) -> str:
    """Give the SQL of all values of a run as the arguments of a hash, absent metrics as null."""
    held = set(present)
    return ", ".join(
        identifier(name) if name in held else "NULL::DOUBLE" for name in contract.metrics
    )


def cell_names(metric: str) -> dict[str, str]:
    """Name the columns of ``handed.cells`` that hold one metric."""
    columns = {part: identifier(f"{part} of {metric}") for part in _OF_CELLS}
    return columns | {"metric": text(metric), "value": identifier(metric)}


@cache
def work(name: str) -> str:
    """Read a query of sql/work/."""
    place = files("rigledger.intake").joinpath("sql", "work", f"{name}.sql")
    return place.read_text(encoding="utf-8")
