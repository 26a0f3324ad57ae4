from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract, Table


class TextTables:
    """Text relations in DuckDB: ``_row`` and one VARCHAR column per field, rows numbered from 2."""

    def __init__(self, con: duckdb.DuckDBPyConnection) -> None:
        self.con = con

    def put(self, table: Table, rows: list[dict[str, str | None]], name: str = "held") -> str:
        columns = ", ".join(f'"{field}" varchar' for field in table.field_names)
        self.con.execute(f'create or replace table "{name}" (_row bigint, {columns})')
        marks = ", ".join("?" for _ in range(len(table.fields) + 1))
        values = [
            value
            for row, cells in enumerate(rows, start=2)
            for value in (row, *(cells.get(field) for field in table.field_names))
        ]
        if rows:
            told = ", ".join([f"({marks})"] * len(rows))
            self.con.execute(f'insert into "{name}" values {told}', values)
        return name

    def ask(self, query: str) -> list[tuple[object, ...]]:
        return self.con.execute(f"select * from ({query}) order by all").fetchall()


@pytest.fixture
def contract() -> Contract:
    return load_contract()


@pytest.fixture
def texts(con: duckdb.DuckDBPyConnection) -> TextTables:
    return TextTables(con)
