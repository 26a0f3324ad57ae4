"""Looks through the short tables of a release in the program: in most there is nothing wrong.

To prepare queries over many columns takes the database longer than it takes to look at a few
hundred rows. What is not certain here is asked of the compiled checks: they alone say what is
wrong.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from rigledger.contract.sql_text import identifier
from rigledger.database import read_columns
from rigledger.tabular import DATETIME
from rigledger.typed_check import MOST_CELLS, cells_surely_fine

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import duckdb

    from rigledger.contract.model import ForeignKey, Table

    Cells = dict[str, tuple[Any, ...]]


@dataclass
class ShortTables:
    """The tables of a release, each as text in ``text_<name>`` and typed under its name.

    Attributes:
        con: Connection that holds them.
        rows: Rows of each table that could be read, by its name.
    """

    con: duckdb.DuckDBPyConnection
    rows: Mapping[str, int]
    _typed: dict[str, Cells] = field(default_factory=dict)

    def surely_fine(self, table: Table) -> bool:
        """Whether nothing is wrong with a table, for certain: spelling, cells, keys, references.

        Keys that lead to a table that could not be read are not looked at.
        """
        if not self._is_short(table):
            return False
        typed = self._cells(table)
        text = read_columns(
            self.con,
            f"SELECT * EXCLUDE (_row) FROM {identifier(f'text_{table.name}')}",
            table.field_names,
        )
        return (
            all(
                all(map(_SPELT[held.type], text[held.name], typed[held.name]))
                for held in table.fields
            )
            and cells_surely_fine(table, typed)
            and all(self._leads_somewhere(table, key) for key in table.foreign_keys)
        )

    def _is_short(self, table: Table) -> bool:
        return self.rows[table.name] * len(table.fields) <= MOST_CELLS

    def _cells(self, table: Table) -> Cells:
        if table.name not in self._typed:
            self._typed[table.name] = read_columns(
                self.con, f"FROM {identifier(table.name)}", table.field_names
            )
        return self._typed[table.name]

    def _leads_somewhere(self, table: Table, key: ForeignKey) -> bool:
        if key.table not in self.rows:
            return True
        referred = self._typed.get(key.table)
        if referred is None:
            query = f"SELECT DISTINCT {identifier(key.reference)} FROM {identifier(key.table)}"
            known = {value for (value,) in self.con.execute(query).fetchall()}
        else:
            known = set(referred[key.reference])
        return set(self._cells(table)[key.field]) - {None} <= known


def _same(text: str | None, value: object) -> bool:
    return text == value and text != ""


def _as_number(text: str | None, value: float | None) -> bool:
    if text is None or not value:
        return (text, value) in {(None, None), ("0.0", 0.0)}
    return repr(value) == text  # Python's spelling, and the database's, is the shortest there is


def _spelt_by(spell: Callable[[Any], str]) -> Callable[[str | None, Any], bool]:
    return lambda text, value: text == (None if value is None else spell(value))


_SPELT: dict[str, Callable[[str | None, Any], bool]] = {
    "string": _same,
    "integer": _spelt_by(str),
    "number": _as_number,
    "boolean": _spelt_by(lambda value: "true" if value else "false"),
    "date": _spelt_by(lambda value: value.isoformat()),
    "datetime": _spelt_by(lambda value: value.strftime(DATETIME)),
}
"""Whether a text is certainly how a release spells a value, by the column's type."""
