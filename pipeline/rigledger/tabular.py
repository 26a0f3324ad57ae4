"""Tables of the contract as files: canonical CSV and Parquet out of DuckDB, our own CSV back in.

One spelling per value, so that the same rows always give the same bytes: UTF-8, comma, a line feed
after each record, blank for null, ``true`` and ``false``, whole seconds (``2026-10-05T09:12:00Z``),
numbers as the shortest text that reads back the same (``60.0``, never a negative zero). Rows stand
in the order of the table's key. Reading back is as strict as writing: a cell is accepted only in
the spelling that writing it again would give.
"""

from __future__ import annotations

import csv
from contextlib import contextmanager
from functools import partial
from typing import TYPE_CHECKING, ClassVar

import duckdb

from rigledger.contract.cells import SQL_TYPES, typed_columns
from rigledger.contract.sql_text import identifier, literal
from rigledger.database import planned_plainly
from rigledger.errors import RigledgerError, near_names
from rigledger.ordered import WORTH_A_LOOK, published_order
from rigledger.side import beside

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Sequence
    from pathlib import Path

    from rigledger.contract.model import Field, Table

DATETIME = "%Y-%m-%dT%H:%M:%SZ"
_ROWS_PER_GROUP = 122_880
_FEW_ROWS = 100_000


class TabularError(RigledgerError, ValueError):
    """A table can't be written in, or read from, its canonical spelling."""

    code: ClassVar[str] = "tabular"


def file_literal(path: Path) -> str:
    """Quote the path of a file that is read: DuckDB takes paths for patterns, this one is none."""
    plain = {"[": "[[]", "*": "[*]", "?": "[?]"}
    return literal("".join(plain.get(mark, mark) for mark in path.as_posix()))


def column_names(con: duckdb.DuckDBPyConnection, relation: str) -> tuple[str, ...]:
    """List the columns of a table or view in their order; empty where there is none."""
    # Asking the relation itself; the list of all columns takes several times as long.
    for schema in ("main", "temp.main"):
        try:
            found = con.execute(f"FROM {schema}.{identifier(relation)} LIMIT 0").description
        except duckdb.CatalogException:
            continue
        return tuple(str(column[0]) for column in found)
    return ()


def table_names(con: duckdb.DuckDBPyConnection) -> frozenset[str]:
    """Name the tables that stand in the default schema; views are left out."""
    found = con.execute("SELECT table_name FROM duckdb_tables() WHERE schema_name = 'main'")
    return frozenset(str(name) for (name,) in found.fetchall())


def count_rows(con: duckdb.DuckDBPyConnection, relations: Iterable[str]) -> dict[str, int]:
    """Count the rows of some tables, in one statement."""
    queries = [
        f"SELECT {literal(name)}, count(*) FROM {identifier(name)}"
        for name in dict.fromkeys(relations)
    ]
    found = con.execute(" UNION ALL ".join(queries)).fetchall() if queries else []
    return {name: int(rows) for name, rows in found}


def create_tables(con: duckdb.DuckDBPyConnection, tables: Iterable[Table]) -> None:
    """Create tables of the contract, empty, with the contract's columns, order and types."""
    for table in tables:
        con.execute(f"CREATE OR REPLACE TABLE {identifier(table.name)} ({typed_columns(table)})")


def canonical_text(field: Field, expression: str) -> str:
    """Give the SQL that spells a typed value canonically."""
    spelling = {
        "string": f"nullif({expression}, '')",
        "number": f"CASE WHEN {expression} = 0 THEN '0.0' ELSE CAST({expression} AS VARCHAR) END",
        "datetime": f"strftime({expression}, {literal(DATETIME)})",
    }
    return spelling.get(field.type, f"CAST({expression} AS VARCHAR)")


def value_of_text(field: Field, expression: str) -> str:
    """Give the SQL that reads a text as the field's type; null where it is none, or not finite."""
    if field.type == "string":
        return expression
    if field.type == "datetime":
        return f"try_strptime({expression}, {literal(DATETIME)})"
    cast = f"TRY_CAST({expression} AS {SQL_TYPES[field.type]})"
    if field.type in {"number", "date"}:
        return f"CASE WHEN isfinite({cast}) THEN {cast} END"
    return cast


def order_by(table: Table) -> str:
    """Give the sort order of a published table ``t``: its whole key, or else every column."""
    names = table.primary_key or table.field_names
    return ", ".join(f"t.{identifier(name)} ASC NULLS LAST" for name in names)


def text_select(table: Table, relation: str | None = None, *, as_is: bool = False) -> str:
    """Give the SELECT of a typed table as canonical text, all VARCHAR, in published order.

    With ``as_is`` the rows come as they stand: because they stand in that order, or none matters.
    """
    cells = (canonical_text(field, _typed(field)) for field in table.fields)
    return _select(table, cells, relation, as_is=as_is)


def typed_select(table: Table, relation: str | None = None, *, as_is: bool = False) -> str:
    """Give the SELECT of a typed table with the contract's types; otherwise as `text_select`."""
    cells = (_published(field) for field in table.fields)
    return _select(table, cells, relation, as_is=as_is)


def _select(table: Table, cells: Iterable[str], relation: str | None, *, as_is: bool) -> str:
    named = (f"{cell} AS {identifier(f.name)}" for cell, f in zip(cells, table.fields, strict=True))
    query = f"SELECT {', '.join(named)} FROM {identifier(relation or table.name)} AS t"
    return query if as_is else f"{query} ORDER BY {order_by(table)}"


def _typed(field: Field) -> str:
    return f"CAST(t.{identifier(field.name)} AS {SQL_TYPES[field.type]})"


def _published(field: Field) -> str:
    value = _typed(field)
    if field.type == "string":
        return f"nullif({value}, '')"
    if field.type == "number":
        return f"CASE WHEN {value} = 0 THEN CAST(0 AS DOUBLE) ELSE {value} END"
    return value


def write_csv(
    con: duckdb.DuckDBPyConnection, table: Table, path: Path, relation: str | None = None
) -> None:
    """Write a DuckDB table as canonical CSV.

    Args:
        con: Connection that holds the table.
        table: Columns, types and key.
        path: File to write; its folder exists.
        relation: Name of the DuckDB table where it is not the contract's.

    Raises:
        TabularError: A column is missing, a number is not finite, or a time has parts of a second.
    """
    with _missing_columns_named(con, table, relation):
        as_is = _looked_over(con, table, relation)
        _copy_csv(con, text_select(table, relation, as_is=as_is), path)


def _copy_csv(con: duckdb.DuckDBPyConnection, query: str, path: Path) -> None:
    con.execute(
        f"COPY ({query}) TO {literal(str(path))} "
        "(FORMAT csv, HEADER true, DELIMITER ',', QUOTE '\"', ESCAPE '\"', NULLSTR '')"
    )


def write_parquet(
    con: duckdb.DuckDBPyConnection, table: Table, path: Path, relation: str | None = None
) -> None:
    """Write a DuckDB table as Parquet: the same rows as the CSV, typed, with fixed settings.

    Arguments and errors are those of `write_csv`.
    """
    with _missing_columns_named(con, table, relation):
        query = typed_select(table, relation, as_is=_looked_over(con, table, relation))
        _copy_parquet(con, query, path)


def write_both(
    con: duckdb.DuckDBPyConnection,
    files: Sequence[tuple[Table, Path, Path | None]],
    in_order: Collection[str] = (),
) -> frozenset[str]:
    """Write DuckDB tables, each as canonical CSV and, where a second path is given, as Parquet.

    Args:
        con: Connection that holds the tables.
        files: Table, CSV file and Parquet file of each; their folders exist.
        in_order: Names of tables that were made in published order.

    Returns:
        Names of long tables whose rows stand in published order.

    Raises:
        TabularError: As of `write_csv`.
    """
    rows = []
    with planned_plainly(con):
        for table, _, _ in files:
            with _missing_columns_named(con, table):
                rows.append(_refuse_unwritable(con, table, table.name))
    as_is = [
        (table.name in in_order and count >= WORTH_A_LOOK)
        or published_order(con, table, rows=count)
        for (table, _, _), count in zip(files, rows, strict=True)
    ]
    made = [
        (parquet, typed_select(table, as_is=sorted_already))
        for (table, _, parquet), sorted_already in zip(files, as_is, strict=True)
        if parquet is not None
    ]
    # A long table keeps every processor busy by itself.
    with beside(con, wanted=sum(rows) <= _FEW_ROWS) as side:
        written = side.begin(partial(_copy_parquets, made=made))
        # The bytes of a CSV file don't depend on the plan, and looking for one takes longer.
        with planned_plainly(con):
            for (table, path, _), sorted_already in zip(files, as_is, strict=True):
                with _missing_columns_named(con, table):
                    _copy_csv(con, text_select(table, as_is=sorted_already), path)
        written.result()
    return frozenset(table.name for (table, _, _), held in zip(files, as_is, strict=True) if held)


def _looked_over(con: duckdb.DuckDBPyConnection, table: Table, relation: str | None = None) -> bool:
    """Refuse what can't be written, and tell whether the rows stand in published order."""
    rows = _refuse_unwritable(con, table, relation or table.name)
    return published_order(con, table, relation, rows=rows)


@contextmanager
def _missing_columns_named(
    con: duckdb.DuckDBPyConnection, table: Table, relation: str | None = None
) -> Iterator[None]:
    """Name the column that is missing where a statement fails for it: looking before takes longer.

    Raises:
        TabularError: The table has no such column.
    """
    try:
        yield
    except (duckdb.BinderException, duckdb.CatalogException):
        held = column_names(con, relation or table.name)
        for name in table.field_names:
            if name not in held:
                raise TabularError(
                    "the table has no such column",
                    file=relation or table.name,
                    column=name,
                    next_step=near_names(name, held),
                ) from None
        raise


def _copy_parquets(con: duckdb.DuckDBPyConnection, made: Sequence[tuple[Path, str]]) -> None:
    for path, query in made:
        _copy_parquet(con, query, path)


def _copy_parquet(con: duckdb.DuckDBPyConnection, query: str, path: Path) -> None:
    con.execute(
        f"COPY ({query}) TO {literal(str(path))} "
        f"(FORMAT parquet, COMPRESSION zstd, ROW_GROUP_SIZE {_ROWS_PER_GROUP}, PARQUET_VERSION v1)"
    )


def _refuse_unwritable(con: duckdb.DuckDBPyConnection, table: Table, relation: str) -> int:
    """Refuse values that have no canonical spelling, and count the rows."""
    wrong = {field: found for field in table.fields if (found := _unwritable(field)) is not None}
    # One pass over the table; which row it is, is looked for only where there is one.
    counts = [f"count_if({condition}) > 0" for condition, _ in wrong.values()]
    asked = ", ".join(["count(*)", *counts])
    ((rows, *here),) = con.execute(f"SELECT {asked} FROM {identifier(relation)} AS t").fetchall()
    for (field, (condition, message)), is_here in zip(wrong.items(), here, strict=True):
        if is_here:
            _refuse_value(con, table, relation, (field, condition, message))
    return int(rows)


def _unwritable(field: Field) -> tuple[str, str] | None:
    """Give the SQL that is true of a value that can't be written, and what to say of it."""
    value = _typed(field)
    return {
        "number": (f"NOT isfinite({value})", "the number is not finite"),
        "datetime": (f"{value} <> date_trunc('second', {value})", "the time has parts of a second"),
    }.get(field.type)


def _refuse_value(
    con: duckdb.DuckDBPyConnection, table: Table, relation: str, wrong: tuple[Field, str, str]
) -> None:
    field, condition, message = wrong
    key = " || ' ' || ".join(
        f"coalesce(CAST(t.{identifier(name)} AS VARCHAR), '')"
        for name in table.primary_key or table.field_names
    )
    rows = con.execute(
        f"SELECT {key}, CAST({_typed(field)} AS VARCHAR) FROM {identifier(relation)} AS t "
        f"WHERE {condition} ORDER BY 1 LIMIT 1"
    ).fetchall()
    for row in rows:
        raise TabularError(
            f"{message}, row {row[0]}", file=relation, column=field.name, value=row[1]
        )


def read_header(path: Path) -> tuple[str, ...]:
    """Read the column names of a CSV file.

    Raises:
        TabularError: The file can't be opened, is empty, or is not UTF-8.
    """
    try:
        with path.open(encoding="utf-8", newline="") as stream:
            header = next(csv.reader(stream), None)
    except (OSError, UnicodeDecodeError, csv.Error) as error:
        raise TabularError(f"can't be read: {error}", file=path.name) from error
    if header is None:
        raise TabularError("the file is empty", file=path.name, row=1)
    return tuple(header)


def read_text(
    con: duckdb.DuckDBPyConnection, path: Path, columns: Iterable[str], relation: str
) -> int:
    """Read a canonical CSV file as text into a DuckDB table.

    Args:
        con: Connection to fill.
        path: The file.
        columns: Names that the header must have, in order.
        relation: Table to make or replace; its column ``_row`` counts records, the header being 1.

    Returns:
        How many rows it has.

    Raises:
        TabularError: The header differs, a record has another number of cells, or the file is not
            UTF-8 CSV.
    """
    names = tuple(columns)
    _refuse_other_header(read_header(path), names, path)
    types = ", ".join(f"{literal(name)}: 'VARCHAR'" for name in names)
    try:
        ((rows,),) = con.execute(
            f"CREATE OR REPLACE TABLE {identifier(relation)} AS "
            "SELECT row_number() OVER () + 1 AS _row, * FROM "
            f"read_csv({file_literal(path)}, auto_detect=false, header=true, delim=',', "
            f"quote='\"', escape='\"', nullstr='', columns={{{types}}}, encoding='utf-8', "
            "strict_mode=true, null_padding=false)"
        ).fetchall()
    except duckdb.Error as error:
        first = str(error).strip().splitlines()
        raise TabularError(
            f"can't be read as CSV: {' '.join(first[:3])}", file=path.name
        ) from error
    return int(rows)


def _refuse_other_header(header: tuple[str, ...], names: tuple[str, ...], path: Path) -> None:
    if header == names:
        return
    missing = [name for name in names if name not in header]
    extra = [name for name in header if name not in names]
    what = "; ".join(
        part
        for part in (
            f"missing: {', '.join(missing)}" if missing else "",
            f"not known: {', '.join(extra)}" if extra else "",
        )
        if part
    )
    raise TabularError(
        f"the columns differ from the contract ({what or 'another order'})",
        file=path.name, row=1, next_step=f"expected: {','.join(names)}",
    )  # fmt: skip


def type_text(
    con: duckdb.DuckDBPyConnection, table: Table, relation: str, target: str | None = None
) -> None:
    """Make the typed table of a text table; misspelt cells become null: look for them first."""
    cells = ", ".join(
        f"{value_of_text(field, identifier(field.name))} AS {identifier(field.name)}"
        for field in table.fields
    )
    con.execute(
        f"CREATE OR REPLACE TABLE {identifier(target or table.name)} AS "
        f"SELECT {cells} FROM {identifier(relation)} ORDER BY _row"
    )
