"""From text to types: the schema ``handed``, which rules and normalising read."""

from __future__ import annotations

from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

from rigledger.contract.compile_sql import typed_select
from rigledger.contract.sql_text import identifier, text
from rigledger.intake.readset import TextSet, wide_tables

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract.model import Contract


def make_typed(con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract) -> None:
    """Create ``handed.<table>`` for every handed-in table and the long views.

    Args:
        con: The database, with ``intake.text_<table>``.
        held: What was read.
        contract: The contract.
    """
    for name, table in wide_tables(contract).items():
        made = f"CREATE TABLE handed.{identifier(name)} AS "
        if name in held.tables:
            con.execute(
                made + typed_select(table, f"intake.text_{name}", columns=held.present[name])
            )
        else:
            nothing = "(SELECT NULL::BIGINT AS _row WHERE false)"
            con.execute(made + typed_select(table, nothing, columns=()))
    _measurements(con, held, contract)
    _facts(con, held, contract)
    _steps(con, held, contract)


def forget_rows(con: duckdb.DuckDBPyConnection, table: str, rows: list[int]) -> None:
    """Take rows that are no rows of a table out of ``handed.<table>``."""
    if rows:
        where = "WHERE _row IN (SELECT unnest(?))"
        con.execute(f"DELETE FROM handed.{identifier(table)} {where}", [rows])


def forget_values(con: duckdb.DuckDBPyConnection) -> None:
    """Blank the values outside their column's bounds: no rule is to take them for measured."""
    spots = con.execute(
        "SELECT DISTINCT _table, column_name FROM handed.found WHERE rule = 'out_of_bounds'"
        " ORDER BY ALL"
    ).fetchall()
    for table, column in spots:
        con.execute(
            f"UPDATE handed.{identifier(table)} SET {identifier(column)} = NULL WHERE _row IN"
            " (SELECT _row FROM handed.found WHERE rule = 'out_of_bounds' AND _table = ?"
            " AND column_name = ?)",
            [table, column],
        )


def forget_text(con: duckdb.DuckDBPyConnection) -> None:
    """Drop the runs as text, which nothing reads any more and which are most of the memory."""
    con.execute("DROP VIEW IF EXISTS intake.text_runs")
    con.execute("DROP TABLE IF EXISTS intake.raw_runs")


def make_cells(con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract) -> None:
    """Create ``placed``, ``cells`` and ``cell_values`` in ``handed``, which many rules read."""
    names = _present(held, "runs", list(contract.metrics)) or list(contract.metrics)[:1]
    filled = [_cell_names(name) for name in names]
    aggregates = Template(_work("cell_aggregates"))
    rows = Template(_work("cell_values"))
    con.execute(_work("stacked"))
    con.execute(_work("placed"))
    each = ",\n".join(aggregates.substitute(one).rstrip() for one in filled)
    con.execute(Template(_work("cells")).substitute(aggregates=each.lstrip()))
    con.execute(
        "CREATE VIEW handed.cell_values AS\n"
        + "\nUNION ALL\n".join(rows.substitute(one) for one in filled)
    )


def _cell_names(metric: str) -> dict[str, str]:
    """Name the columns of ``handed.cells`` that hold one metric."""
    parts = ("runs", "lowest", "highest", "mean", "variance")
    columns = {part: identifier(f"{part} of {metric}") for part in parts}
    return columns | {"metric": text(metric), "value": f"r.{identifier(metric)}"}


def _work(name: str) -> str:
    place = files("rigledger.intake").joinpath("sql", "work", f"{name}.sql")
    return place.read_text(encoding="utf-8")


def _present(held: TextSet, table: str, names: list[str]) -> list[str]:
    return [name for name in names if name in held.present.get(table, ())]


def _measurements(con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract) -> None:
    """One row a run and metric, in place of one column a metric."""
    chosen = _present(held, "runs", list(contract.metrics))
    parts = [
        f"SELECT _row, rig, session, run, {text(name)} AS metric, {identifier(name)} AS value "
        f"FROM handed.runs"
        f" WHERE {identifier(name)} IS NOT NULL"
        for name in chosen
    ]
    nothing = (
        "SELECT _row, rig, session, run, NULL::VARCHAR AS metric, NULL::DOUBLE AS value FROM "
        "handed.runs WHERE false"
    )
    con.execute("CREATE VIEW handed.measurements AS " + "\nUNION ALL ".join(parts or [nothing]))


def _facts(con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract) -> None:
    facts = contract.vocabularies["fact"]
    parts = [
        f"SELECT _row, rig, session, {text(name)} AS fact, CAST({identifier(name)} AS VARCHAR) "
        f"AS value,"
        f" {text(facts.units[name]) if name in facts.units else 'NULL::VARCHAR'} AS unit FROM "
        f"intake.text_sessions"
        f" WHERE {identifier(name)} <> ''"
        for name in _present(held, "sessions", list(facts.terms))
    ]
    nothing = (
        "SELECT _row, rig, session, NULL::VARCHAR AS fact, NULL::VARCHAR AS value, NULL::VARCHAR "
        "AS unit"
        " FROM handed.sessions WHERE false"
    )
    con.execute("CREATE TABLE handed.facts AS " + "\nUNION ALL ".join(parts or [nothing]))


def _steps(con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract) -> None:
    """The step of each metric column: one unit of the last decimal that any of its cells has.

    A column brought in from another unit has no one step, and neither has one with exponents.
    """
    plain = [
        name
        for name in _present(held, "runs", list(contract.metrics))
        if held.manifest.units.get(name, contract.metrics[name].unit) == contract.metrics[name].unit
    ]
    parts = [
        f"SELECT {text(name)} AS metric, CASE WHEN bool_or(contains(lower({identifier(name)}), "
        f"'e')) THEN NULL"
        f" ELSE power(10::DOUBLE, -max(length(split_part({identifier(name)}, '.', 2)))) END AS "
        f"reported_step"
        f" FROM intake.text_runs WHERE {identifier(name)} <> ''"
        for name in plain
    ]
    nothing = "SELECT NULL::VARCHAR AS metric, NULL::DOUBLE AS reported_step WHERE false"
    con.execute("CREATE TABLE handed.steps AS " + "\nUNION ALL ".join(parts or [nothing]))
