"""Makes tables from .sql files in the order in which they need each other."""

from __future__ import annotations

import re
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.contract.cells import SQL_TYPES, typed_columns
from rigledger.database import planned_plainly
from rigledger.study.rows import insert_rows
from rigledger.tables.frames import as_frame, as_stream
from rigledger.typed_check import table_keeps_contract

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    import duckdb
    import polars as pl

    from rigledger.claims.model import Claim
    from rigledger.contract import Contract, Table
    from rigledger.contract.model import Field
    from rigledger.remembered import Remembered
    from rigledger.study.design import Design

SQL_FOLDER = Path(__file__).parent / "sql"
# Up to so many rows in all source tables, looking for the best plan takes longer than any plan.
_SMALL = 20_000
_NEEDED = re.compile(r"\bwork\.([a-z_]+)")


@dataclass
class Workshop:
    """The schema ``work``, where intermediate tables stand while derived tables are made.

    A table of ``work`` comes from ``sql/work/<name>.sql``, or is filled by a function where SQL
    can't say it. What a query names as ``work.<name>`` is made before it.

    Attributes:
        con: Connection that holds the source tables.
        design: The study's design.
        contract: The contract.
        fillers: Functions that fill tables of ``work``, by table name; one may fill several.
        claims: The sentences that are held against the tables.
        remembered: What the statistics came to for the same runs; None computes everything.
    """

    con: duckdb.DuckDBPyConnection
    design: Design
    contract: Contract
    fillers: Mapping[str, Callable[[Workshop], None]]
    claims: Sequence[Claim] = ()
    remembered: Remembered | None = None
    _made: set[str] = field(default_factory=set)

    def need(self, *names: str) -> None:
        """Make tables of ``work`` that aren't there yet, and first what they need."""
        for name in names:
            if name not in self._made:
                self._make(name)

    def fill(self, name: str, frame: pl.DataFrame) -> None:
        """Make a table of ``work`` from a frame."""
        self.con.register("filled", as_stream(frame))
        try:
            self.con.execute(f"create table work.{name} as select * from filled")
        finally:
            self.con.unregister("filled")
        self._made.add(name)

    def fill_rows(self, name: str, table: Table, rows: Sequence[Mapping[str, object]]) -> None:
        """Make a table of ``work`` with a table's columns from rows, without loading a library."""
        self.con.execute(f"create table work.{name} ({typed_columns(table)})")
        insert_rows(self.con, name, rows, schema="work")
        self._made.add(name)

    def frame(self, query: str) -> pl.DataFrame:
        """Run a query over tables of ``work``, made before, and give its rows as a frame."""
        self._need_of(query)
        return as_frame(self.con, query)

    def derive(self, table: Table) -> None:
        """Make one derived table from ``sql/<name>.sql``: contract's columns, ordered by key.

        The interval of a hopelessly noisy cell may reach beyond any bound; a percentage or a value
        above its column's highest is published as that. Verdicts were given before.

        Raises:
            FrameError: The rows don't keep the contract.
        """
        query = statement(f"{table.name}.sql")
        self._need_of(query)
        self.make_derived(table.name, published_query(table, query))
        if not table_keeps_contract(self.con, table):
            from rigledger.contract.pandera_schemas import require_frame

            require_frame(as_frame(self.con, f"from {table.name}"), table)

    def _make(self, name: str) -> None:
        if name in self.fillers:
            self.fillers[name](self)
            self._made.add(name)
            return
        query = statement(f"work/{name}.sql")
        self._need_of(query)
        self.make_work(name, query)
        self._made.add(name)

    def make_derived(self, name: str, query: str) -> None:
        """Make a derived table from a query of which all tables are there."""
        self.con.execute(f"create or replace table {name} as {query}")

    def make_work(self, name: str, query: str) -> None:
        """Make a table of ``work`` from a query of which all tables are there."""
        self.con.execute(f"create table work.{name} as {query}")

    def _need_of(self, query: str) -> None:
        self.need(*dict.fromkeys(_NEEDED.findall(query)))


def published_query(table: Table, query: str) -> str:
    """Give a query's rows with the contract's columns and types, ordered by the table's key."""
    columns = ", ".join(f'{_published(held)} as "{held.name}"' for held in table.fields)
    order = ", ".join(f'"{name}"' for name in table.primary_key)
    return f"select {columns} from ({query}) order by {order}"


def _published(held: Field) -> str:
    cast = f'cast("{held.name}" as {SQL_TYPES[held.type]})'
    open_above = held.unit == "percent" or held.unit_from is not None
    if held.type != "number" or held.maximum is None or not open_above:
        return cast
    # Not `least`, which would make an acceptable number of NaN.
    beyond = f"{cast} > {held.maximum} and not isnan({cast})"
    return f"case when {beyond} then {held.maximum} else {cast} end"


@contextmanager
def workshop(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    contract: Contract,
    fillers: Mapping[str, Callable[[Workshop], None]],
    claims: Sequence[Claim] = (),
    *,
    remembered: Remembered | None = None,
) -> Iterator[Workshop]:
    """Open the schema ``work`` and take it down again, whatever happens.

    Yields:
        An empty workshop.
    """
    con.execute("create schema work")
    try:
        with planned_plainly(con, small=_rows(con) <= _SMALL):
            yield Workshop(con, design, contract, fillers, claims, remembered)
    finally:
        con.execute("drop schema work cascade")


def _rows(con: duckdb.DuckDBPyConnection) -> int:
    found = con.execute("select sum(estimated_size) from duckdb_tables()").fetchone()
    return int(found[0] or 0) if found else 0


def statement(name: str) -> str:
    """Give the text of a statement, by its file's name in the folder ``sql``."""
    return (SQL_FOLDER / name).read_text(encoding="utf-8")
