"""Compares tables of two engines cell by cell, as a release spells them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.tabular import text_select

if TYPE_CHECKING:
    import duckdb
    import polars as pl

    from rigledger.contract import Table

_EXAMPLES = 5
_NTH, _HERE = "_nth", "_here"


@dataclass(frozen=True, slots=True)
class Compared:
    """How many cells of a table are the same text in both.

    Attributes:
        table: The table's name.
        rows: Rows of the longer side.
        cells: Cells of the longer side.
        differing: Cells that differ; all of a row that only one side has.
        examples: A few of them: key, column, and the text of either side.
    """

    table: str
    rows: int
    cells: int
    differing: int
    examples: tuple[str, ...] = ()


def compare_tables(
    one: duckdb.DuckDBPyConnection, other: duckdb.DuckDBPyConnection, table: Table
) -> Compared:
    """Compare a table of two connections at every digit that a release prints.

    Args:
        one: Holds the table.
        other: Holds it too.
        table: Columns, types and key.
    """
    key = table.primary_key or table.field_names
    sides = [_numbered(con.sql(text_select(table)).pl(), key) for con in (one, other)]
    joined = sides[0].join(sides[1], on=[*key, _NTH], how="full", suffix="_other", nulls_equal=True)
    rows = max(side.height for side in sides)
    differing, examples = 0, []
    for name in table.field_names:
        wrong = joined.filter(_differs(name, key))
        differing += wrong.height
        examples += [_said(row, name, key) for row in wrong.head(_EXAMPLES).iter_rows(named=True)]
    cells = rows * len(table.field_names)
    return Compared(table.name, rows, cells, differing, tuple(examples[:_EXAMPLES]))


def _numbered(rows: pl.DataFrame, key: tuple[str, ...]) -> pl.DataFrame:
    """Number the rows of one key, so that none is paired twice where a key should recur."""
    import polars as pl

    return rows.with_columns(pl.int_range(pl.len()).over(key).alias(_NTH), pl.lit(1).alias(_HERE))


def _differs(name: str, key: tuple[str, ...]) -> pl.Expr:
    import polars as pl

    alone = pl.col(_HERE).is_null() | pl.col(f"{_HERE}_other").is_null()
    return alone if name in key else alone | pl.col(name).ne_missing(pl.col(f"{name}_other"))


def _said(row: dict[str, str | None], name: str, key: tuple[str, ...]) -> str:
    held = ", ".join(f"{row[part] or row[f'{part}_other']}" for part in key)
    return f"{held}: {name} is {row[name]!r} and {row[f'{name}_other']!r}"
