"""Reads a long CSV file straight into types, and keeps the text of those rows alone that need it.

Reading a million rows as text, keeping them and casting them takes twice as long as reading them
once. So the cells are cast where they are read, and a row is kept as text beside only where one of
its cells is not plain (`rigledger.intake.plain_form`): then it goes the way of all rows of a short
file.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rigledger.contract import cells
from rigledger.contract.sql_text import identifier, text
from rigledger.intake.plain_form import PlainColumn, plain_column

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping, Sequence
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Field, Table
    from rigledger.intake.csv_rows import Shape
    from rigledger.intake.manifest import Manifest

MOST_ODD = 0.05
"""Share of rows kept as text from which the whole file is read as text."""

_FEW_WORDS = 1000  # as many bits a group of rows are fewer bytes than its rows
_PLACES, _PIECE = 24, 1 << 14  # pieces of the sample, and bytes of each


@dataclass(frozen=True, slots=True)
class PlainTable:
    """A table that was read straight into types.

    Attributes:
        table: The table of the contract.
        relation: The database's table: the values of the columns that vary, and ``_odd``, the cells
            of a row as text where one of them is not plain.
        columns: The columns of the file, in the order of ``_odd``.
        given: Constants of the manifest, by column.
        odd: How many rows are kept as text.
    """

    table: Table
    relation: str
    columns: tuple[PlainColumn, ...]
    given: Mapping[str, str]
    odd: int = 0

    def text(self) -> str:
        """Give the query of the rows kept as text: ``_row``, the file's columns, what was read."""
        picked = ", ".join(
            [
                *(f"_odd[{place}] AS {one.name}" for place, one in enumerate(self.columns, 1)),
                *(f"{one.name} AS {one.read}" for one in self.columns if not one.constant),
            ]
        )
        return f"SELECT rowid + 2 AS _row, {picked} FROM {self.relation} WHERE _odd IS NOT NULL"

    def values(self, name: str) -> str:
        """Give the value of a column in plain rows; null where the set doesn't have it."""
        kind = cells.SQL_TYPES[self.table.field(name).type]
        for column in self.columns:
            if column.field.name == name:
                return column.typed()
        return (
            f"CAST({text(self.given[name])} AS {kind})" if name in self.given else f"NULL::{kind}"
        )

    def decimals(self, name: str) -> int | None:
        """Give how many decimals the plain cells of a column have at most, which some of them have.

        None where they are all blank.
        """
        return next((one.decimals for one in self.columns if one.field.name == name), None)

    def as_text(self, names: Sequence[str]) -> str:
        """Give the query of some columns of all rows as text, with ``_row``."""
        places = {column.field.name: place for place, column in enumerate(self.columns, 1)}
        picked = ", ".join(
            f"CASE WHEN _odd IS NULL THEN CAST({self.values(name)} AS VARCHAR)"
            f" ELSE {f'_odd[{places[name]}]' if name in places else text(self.given[name])} END"
            f" AS {identifier(name)}"
            for name in names
        )
        return f"(SELECT rowid + 2 AS _row, {picked} FROM {self.relation})"

    def twice(self, key: Sequence[str]) -> list[str]:
        """Give queries that find a row where a key may stand twice, the quickest first.

        Where one of them finds none, none does. A cell that is not plain has no value here and is
        unlike any that has.
        """
        kept = [one for one in self.columns if one.field.name in key and not one.constant]
        every = [one.name for one in kept]
        queries = [self._repeated(every, "count(*) > 1")]
        if kept and (last := kept[-1]).enum and len(last.words or ()) <= _FEW_WORDS:
            # The words of the last column that each group has, as bits: as many as it has rows.
            most = len(last.words or ()) - 1
            bits = f"bit_count(bitstring_agg(enum_code({last.name})::INTEGER, 0, {most}))"
            queries.insert(0, self._repeated(every[:-1], f"count(*) > coalesce({bits}, 0)"))
        return queries

    def _repeated(self, columns: Sequence[str], having: str) -> str:
        grouped = f" GROUP BY {', '.join(columns)}" if columns else ""
        return f"SELECT 1 FROM {self.relation}{grouped} HAVING {having} LIMIT 1"


def read_plain(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    source: str,
    *,
    table: Table,
    shape: Shape,
    manifest: Manifest,
    known: Mapping[str, Collection[str]],
    metrics: Collection[str],
) -> PlainTable | None:
    """Read a long CSV file straight into types.

    Args:
        con: The database.
        path: The file, in UTF-8.
        source: Query of its cells as text; the columns are named ``c<place>``.
        table: The wide table it holds.
        shape: Its header and where its columns are.
        manifest: The set's constants, units and captures.
        known: Words that a column may hold, as other tables of the set have them.
        metrics: The columns that hold measured values.

    Returns:
        The table; None where the set states anything that changes its cells, or where too many
        rows are not plain: then nothing is kept.

    Raises:
        duckdb.Error: The file is not what a CSV file is; read it row by row.
    """
    given = manifest.all_runs if table.name == "runs" else {}
    if not _as_written(table, shape, manifest, given) or not given.keys().isdisjoint(metrics):
        return None
    columns = _columns(con, path, table, shape, known)
    if columns is None or not _sound(con, table, given):
        return None
    for column in columns:
        if column.enum:
            words = ", ".join(text(word) for word in column.words or ())
            con.execute(f"CREATE TYPE {column.enum} AS ENUM ({words})")
    held = PlainTable(table, f"intake.{identifier('plain_' + table.name)}", columns, given)
    con.execute(f"CREATE TABLE {held.relation} AS {_select(columns, shape, source)}")
    counted = con.execute(f"SELECT count(_odd), count(*) FROM {held.relation}").fetchone()
    odd, rows = counted or (0, 0)
    if odd > MOST_ODD * rows:
        con.execute(f"DROP TABLE {held.relation}")
        return None
    return replace(held, odd=odd)


def _as_written(table: Table, shape: Shape, manifest: Manifest, given: Mapping[str, str]) -> bool:
    """Whether cells mean what is written in them, and nothing will be filled in later."""
    named = set(shape.places)
    return (
        table.name == "runs"
        and not table.foreign_keys
        and manifest.decimal == "."
        and not (manifest.by_workload or manifest.captures)
        and not set(manifest.units) & named
        and not set(given) & named
        and "capture_file" not in {*named, *given}
        and all(table.field(name).type in {"string", "integer", "number"} for name in given)
        and all(cell.strip() for cell in shape.header)
    )


def _sound(con: duckdb.DuckDBPyConnection, table: Table, given: Mapping[str, str]) -> bool:
    """Whether nothing is wrong with the constants of the manifest."""
    return all(value in _fine(con, table.field(name), [value]) for name, value in given.items())


def _columns(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    table: Table,
    shape: Shape,
    known: Mapping[str, Collection[str]],
) -> tuple[PlainColumn, ...] | None:
    """Tell the plain form of every column; None where one has none."""
    sample = list(zip(*_sample(path, shape), strict=True))
    if not sample:
        return None
    found = []
    for name, place in shape.places.items():
        column = plain_column(table.field(name), sample[place], known.get(name, ()))
        if column is None:
            return None
        if column.words:
            column = replace(column, words=_fine(con, column.field, column.words))
        if column.field.required and column.words == ():
            return None
        found.append(column)
    return tuple(found)


def _fine(con: duckdb.DuckDBPyConnection, field: Field, words: Sequence[str]) -> tuple[str, ...]:
    """Give the words with which nothing is wrong, in their order."""
    name = identifier(field.name)
    query = (
        f"SELECT {name} FROM (SELECT unnest(?::VARCHAR[]) AS {name})"
        f" WHERE {cells.fine(field, local_times=True)} AND {name} <> '' ORDER BY {name}"
    )
    return tuple(word for (word,) in con.execute(query, [list(words)]).fetchall())


def _sample(path: Path, shape: Shape) -> list[list[str]]:
    """Give rows from all over a file; those that look odd are left out."""
    size = path.stat().st_size
    with path.open("rb") as stream:
        pieces = []
        for number in range(_PLACES):
            stream.seek(size * number // _PLACES)
            pieces.append(stream.read(_PIECE))
    lines = [
        line for piece in pieces for line in piece.decode("utf-8", "replace").split("\n")[1:-1]
    ]
    width = len(shape.header)
    rows = csv.reader(lines, delimiter=shape.delimiter)
    return [row for row in rows if len(row) == width]


def _select(columns: Sequence[PlainColumn], shape: Shape, source: str) -> str:
    """Compile the reading: the values of the columns that vary, and the text of odd rows."""
    named = ", ".join(f"c{shape.places[one.field.name]} AS {one.name}" for one in columns)
    exact = "".join(f", {value} AS {one.exact_name}" for one in columns if (value := one.exact()))
    cast = "".join(f", {value} AS {one.read}" for one in columns if (value := one.value()))
    kept = [f"{one.read} AS {one.name}" for one in columns if not one.constant]
    wrong = [part for one in columns if (part := one.wrong())]
    numbers = [one for one in columns if one.spelling() is not None]
    if numbers:
        # One look at all numbers of a row: a look at each takes three times as long.
        joined = ", ' ', ".join(one.name for one in numbers)
        spelled = text(" ".join(one.spelling() or "" for one in numbers))
        wrong.insert(0, f"NOT regexp_full_match(concat({joined}), {spelled})")
    wrong += [beyond for one in columns for beyond in one.beyond()]
    any_wrong = "\n    OR ".join(wrong)
    odd = f"CASE WHEN {any_wrong}\n    THEN [{', '.join(one.name for one in columns)}] END AS _odd"
    return (
        f"SELECT\n  {', '.join([*kept, odd])}\nFROM (SELECT *{cast} FROM (SELECT *{exact} FROM\n"
        f"  (SELECT {named} FROM {source})))"
    )
