"""From text to types: the schema ``handed``, which rules and normalising read."""

from __future__ import annotations

from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING

from rigledger.contract.cells import typed_columns
from rigledger.contract.compile_sql import typed_select
from rigledger.contract.sql_text import identifier, text
from rigledger.intake.cells import present_metrics
from rigledger.intake.plain_typed import make_plain, odd_rows, settle_plain, show_plain
from rigledger.intake.readset import TextSet, wide_tables
from rigledger.intake.texttable import LONG, TextTable

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence

    import duckdb

    from rigledger.contract.model import Contract, Table
    from rigledger.intake.found import Found


def make_typed(con: duckdb.DuckDBPyConnection, held: TextSet, contract: Contract) -> None:
    """Create ``handed.<table>`` for every handed-in table and the long views.

    Args:
        con: The database, with ``intake.text_<table>``.
        held: What was read.
        contract: The contract.
    """
    cast_tables(con, held, contract, list(wide_tables(contract)))
    make_long(con, held, contract)


def cast_tables(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    contract: Contract,
    names: Collection[str],
    *,
    sound: Mapping[str, Collection[str]] | None = None,
    whole: Collection[str] = (),
) -> None:
    """Create ``handed.<table>`` for some tables; those that weren't handed in are empty.

    Args:
        con: The database, with ``intake.text_<table>``.
        held: What was read.
        contract: The contract.
        names: The tables.
        sound: For each table the columns in which nothing is wrongly spelt.
        whole: Tables in which nothing is wrong at all: they are cast where they are read, which
            is less work than to keep them twice.
    """
    wide = wide_tables(contract)
    for name in names:
        kind = "VIEW" if name in whole else "TABLE"
        made = f"CREATE {kind} handed.{identifier(name)} AS "
        if name in held.tables and (plain := held.tables[name].plain):
            make_plain(con, plain, columns=held.present[name], sound=(sound or {}).get(name, ()))
        elif name in held.tables:
            relation, columns = f"intake.text_{name}", held.present[name]
            spelt = (sound or {}).get(name, ())
            con.execute(made + typed_select(wide[name], relation, columns=columns, sound=spelt))
        else:
            _make_empty(con, wide[name])


def _make_empty(con: duckdb.DuckDBPyConnection, table: Table) -> None:
    columns = typed_columns(table)
    con.execute(f"CREATE TABLE handed.{identifier(table.name)} (_row BIGINT, {columns})")


def make_long(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    contract: Contract,
    *,
    sound: Collection[str] | None = None,
) -> None:
    """Create the long views of the runs and sessions: measurements, blanks, facts, steps.

    Args:
        con: The database, with ``handed.*``.
        held: What was read.
        contract: The contract.
        sound: The columns of the runs in which nothing is wrongly spelt; None where all are.
    """
    names = present_metrics(held, contract)
    make_measurements(con, names)
    _blanks(con, names)
    _facts(con, held, contract)
    _steps(con, held, contract, sound)


def forget_rows(con: duckdb.DuckDBPyConnection, held: TextSet, table: str, rows: list[int]) -> None:
    """Take rows that are no rows of a table out of ``handed.<table>``."""
    if not rows:
        return
    con.execute(f"DELETE FROM {_doubted(held, table)} WHERE _row IN (SELECT unnest(?))", [rows])
    if plain := held.tables[table].plain:
        show_plain(con, plain, without=rows)


def _doubted(held: TextSet, table: str) -> str:
    """Name the table of the rows with a finding about a cell."""
    plain = table in held.tables and held.tables[table].plain is not None
    return odd_rows(table) if plain else f"handed.{identifier(table)}"


def forget_values(
    con: duckdb.DuckDBPyConnection, held: TextSet, found: Found, tables: Collection[str]
) -> None:
    """Blank the values outside their column's bounds: no rule is to take them for measured."""
    for table, column in _out_of_bounds(con, tables) if found.has("out_of_bounds") else ():
        con.execute(
            f"UPDATE {_doubted(held, table)} SET {identifier(column)} = NULL WHERE _row IN"
            " (SELECT _row FROM handed.found WHERE rule = 'out_of_bounds' AND _table = ?"
            " AND column_name = ?)",
            [table, column],
        )
    for name in tables:
        if name in held.tables and (plain := held.tables[name].plain):
            settle_plain(con, plain)


def _out_of_bounds(
    con: duckdb.DuckDBPyConnection, tables: Collection[str]
) -> list[tuple[str, str]]:
    """Give the columns of some tables that have values outside their bounds."""
    return con.execute(
        "SELECT DISTINCT _table, column_name FROM handed.found WHERE rule = 'out_of_bounds'"
        " AND list_contains($tables, _table) ORDER BY ALL",
        {"tables": list(tables)},
    ).fetchall()


def forget_text(con: duckdb.DuckDBPyConnection) -> None:
    """Drop the runs as text, which nothing reads any more and which are most of the memory."""
    con.execute("DROP VIEW IF EXISTS intake.text_runs")
    con.execute("DROP TABLE IF EXISTS intake.raw_runs")


def _present(held: TextSet, table: str, names: list[str]) -> list[str]:
    return [name for name in names if name in held.present.get(table, ())]


def make_measurements(con: duckdb.DuckDBPyConnection, names: Sequence[str]) -> None:
    """Create ``handed.measurements``: a row a run and metric, in place of a column a metric."""
    rows = Template(_work("measurements"))
    filled = [
        {"metric": text(name), "value": identifier(name), "has": f"{identifier(name)} IS NOT NULL"}
        for name in names
    ] or [{"metric": "NULL::VARCHAR", "value": "NULL::DOUBLE", "has": "false"}]
    each = "\nUNION ALL\n".join(rows.substitute(one) for one in filled)
    con.execute(f"CREATE OR REPLACE VIEW handed.measurements AS\n{each}")


def _blanks(con: duckdb.DuckDBPyConnection, names: list[str]) -> None:
    """List the metrics that the runs have columns for, and the runs in which they are blank."""
    con.execute(
        "CREATE TABLE handed.metric_columns AS SELECT unnest(?::VARCHAR[]) AS metric", [names]
    )
    rows = "SELECT _row, workload, role, capture_file, {} AS metric FROM handed.runs WHERE {}"
    parts = [rows.format(text(name), f"{identifier(name)} IS NULL") for name in names]
    nothing = rows.format("NULL::VARCHAR", "false")
    con.execute("CREATE VIEW handed.blanks AS " + "\nUNION ALL ".join(parts or [nothing]))


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


def _steps(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    contract: Contract,
    sound: Collection[str] | None,
) -> None:
    """The step of each metric column: one unit of the last decimal that any of its cells has.

    A column brought in from another unit has no one step, and neither has one with exponents.
    Cells that are no number within the column's bounds don't count.
    """
    names = [
        name
        for name in present_metrics(held, contract)
        if held.manifest.units.get(name, contract.metrics[name].unit) == contract.metrics[name].unit
    ]
    unsound = [name for name in names if sound is not None and name not in sound]
    if names and not unsound and _is_short(held.tables["runs"]):
        con.execute(f"CREATE TABLE handed.steps AS {_steps_at_once(names)}")
        return
    parts = [_step(name, contract, held, look_again=name in unsound) for name in names]
    nothing = "SELECT NULL::VARCHAR AS metric, NULL::DOUBLE AS reported_step WHERE false"
    con.execute("CREATE TABLE handed.steps AS " + "\nUNION ALL ".join(parts or [nothing]))


def _is_short(table: TextTable) -> bool:
    """Whether a table is short, with the text of all its rows."""
    return table.plain is None and table.rows < LONG


def _steps_at_once(names: list[str]) -> str:
    """Give the steps of columns of a short table, each of whose cells is looked at."""
    steps = ", ".join(
        _step_of(f"max(if({cell} <> '', {_decimals(cell)}, NULL))", cell)
        for cell in map(identifier, names)
    )
    metrics = ", ".join(map(text, names))
    return (
        f"SELECT unnest([{metrics}]) AS metric, unnest(steps) AS reported_step"
        f" FROM (SELECT [{steps}] AS steps FROM intake.text_runs)"
    )


def _step_of(decimals: str, cell: str) -> str:
    return (
        f"CASE WHEN bool_or(contains({cell}, 'e') OR contains({cell}, 'E')) THEN NULL"
        f" ELSE power(10::DOUBLE, -{decimals}) END"
    )


def _decimals(cell: str) -> str:
    return f"if(contains({cell}, '.'), strlen({cell}) - instr({cell}, '.'), 0)"


def _step(name: str, contract: Contract, held: TextSet, *, look_again: bool) -> str:
    cell = f"t.{identifier(name)}"
    field = contract.wide("handed_in", "runs").field(name)
    within = f"BETWEEN {field.minimum} AND {field.maximum}"
    rows = _doubted(held, "runs")
    join = f" JOIN {rows} AS h ON h._row = t._row AND h.{identifier(name)} {within}"
    plain = held.tables["runs"].plain
    least = None if plain is None else plain.decimals(name)
    most = f"max({_decimals(cell)})"
    step = _step_of(most if least is None else f"greatest({least}, {most})", cell)
    return (
        f"SELECT {text(name)} AS metric, {step} AS reported_step"
        f" FROM (SELECT DISTINCT {cell} FROM intake.text_runs AS t{join if look_again else ''}"
        f" WHERE {cell} <> '') AS t"
    )


def _work(name: str) -> str:
    place = files("rigledger.intake").joinpath("sql", "work", f"{name}.sql")
    return place.read_text(encoding="utf-8")
