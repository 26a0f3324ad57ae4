"""Where findings stand already: what follows from them is held back, not reported again."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    import duckdb

    from rigledger.findings import Finding
    from rigledger.intake.readset import TextSet

_TABLE = (
    "CREATE TABLE handed.found (rule VARCHAR, _table VARCHAR, _row BIGINT, column_name VARCHAR)"
)
# Values of such cells are no part of what the later rules look at.
_DOUBTED = "CREATE TABLE handed.doubted (cell BIGINT, metric VARCHAR)"
_DOUBT = (
    "INSERT INTO handed.doubted SELECT DISTINCT p.cell, f.column_name FROM handed.found AS f"
    " JOIN handed.placed AS p USING (_row) WHERE f._table = 'runs' AND f.rule = ?"
)


class Found:
    """The cells with an error, and the columns that can't be used by rules that need them whole.

    ``handed.found`` holds the same cells for the queries of rules, ``handed.doubted`` the cells
    of the matrix and metrics with a value in doubt.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self._con = con
        self._cells: set[tuple[str, int, str]] = set()
        self._rules: set[str] = set()
        self._unusable: dict[tuple[str, str], list[int]] = {}
        self.doubts = 0  # how often values have come into doubt
        self.spoilt = 0  # how many cells can't be used
        con.execute(_TABLE)
        con.execute(_DOUBTED)

    def add(self, rule: str, table: str, cells: Iterable[tuple[int, str]]) -> None:
        """Take in the cells (row, column) of a table at which a rule has found an error."""
        rows: dict[str, list[int]] = {}
        for row, column in sorted(set(cells)):
            rows.setdefault(column, []).append(row)
            self._cells.add((table, row, column))
        self._rules.add(rule)
        for column, places in rows.items():
            self._con.execute(
                "INSERT INTO handed.found SELECT ?, ?, unnest(?::BIGINT[]), ?",
                [rule, table, places, column],
            )

    def spoil(self, table: str, cells: Iterable[tuple[int, str]]) -> None:
        """Note that these cells can't be used: rules that need the column whole will not run."""
        for row, column in cells:
            self._unusable.setdefault((table, column), []).append(row)
            self.spoilt += 1

    def doubt(self, rule: str) -> None:
        """Note that the values at which a rule has found an error count in no later rule."""
        self._con.execute(_DOUBT, [rule])
        self.doubts += 1

    def stands_at(self, table: str, row: int | None, column: str | None) -> bool:
        """Whether an error stands at this very cell already."""
        return (table, row, column) in self._cells

    def has(self, rule: str) -> bool:
        """Whether a rule has found an error at any cell."""
        return rule in self._rules

    def columns(self, table: str) -> set[str]:
        """Give the columns of a table in which any cell has an error."""
        return {column for name, _, column in self._cells if name == table}

    def unusable(self, table: str, column: str) -> list[int]:
        """Give the rows in which a column can't be used, in order."""
        rows = self._unusable.get((table, column))
        return sorted(set(rows)) if rows else []


def note(found: Found, held: TextSet, findings: Iterable[Finding]) -> None:
    """Note the cells of the set's tables at which findings of a part outside SQL stand."""
    tables = {table.file: name for name, table in held.tables.items() if name != "set"}
    places: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for item in findings:
        if item.severity == "error" and item.file in tables and item.row and item.column:
            key = (item.rule, tables[item.file])
            places.setdefault(key, []).append((item.row, item.column))
    for (rule, table), cells in places.items():
        found.add(rule, table, cells)
        found.spoil(table, cells)
