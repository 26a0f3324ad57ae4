"""What is said of a cell without the database is never kinder than what the database says."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.contract import Field
from rigledger.contract.cells import failures, fine
from rigledger.contract.plain_cells import surely_fine
from rigledger.contract.sql_text import text

if TYPE_CHECKING:
    import duckdb

FIELDS = [
    Field("cell", "Cell", "A cell.", kind, **constraints)  # type: ignore[arg-type]
    for kind, constraints in (
        ("string", {}),
        ("string", {"required": True, "max_length": 5}),
        ("string", {"required": True, "pattern": "[a-z0-9]+(-[a-z0-9]+)*"}),
        ("string", {"enum": ("measured", "a b")}),
        ("string", {"required": True, "enum": ("measured", "a b")}),
        ("string", {"required": True}),
        ("boolean", {"required": True}),
        ("integer", {}),
        ("integer", {"minimum": -2, "maximum": 100}),
        ("number", {}),
        ("number", {"minimum": 0.001, "maximum": 1e3, "required": True}),
        ("date", {"minimum": "2000-01-01", "maximum": "2100-01-01"}),
        ("date", {}),
        ("datetime", {}),
        ("datetime", {"minimum": "2000-01-01T00:00:00", "maximum": "2100-01-01T00:00:00"}),
    )
]
CELLS = [
    None, "", " ", "\u00a0", "\u200b", "x", " x", "x ", "~", "~a", "é", "abcdef", "abcde", "a-b",
    "a--b", "A", "a\n", "a\tb", "\x7f", "measured", "a b", "true", "True", "0", "-0", "7", "-2",
    "-3", "007", "+5", "1_000", "100", "101", "1e3", "1E-2", "1.", ".5", "0.001", "0.0009",
    "1000.0001", "1e309", "nan", "inf", "9223372036854775807", "9223372036854775808", "1" * 5000,
    "٣", "2000-01-01", "1999-12-31", "2100-01-01", "2100-01-02", "2026-02-30", "0000-01-01",
    "0001-01-01", "2026-1-5", "2026-10-05T09:20:10Z", "2026-10-05T09:20:10",
    "2026-10-05T24:00:00Z", "2026-10-05 09:20:10", "2026-02-30T09:20:10Z",
    "2000-01-01T00:30:00+01:00", "2099-12-31T23:30:00-01:00", "2026-10-05T09:20:10.123456+01:00",
    "2026-10-05T09:20:10.1234567Z", "2026-10-05T09:20Z",
]  # fmt: skip


def _wrong(con: duckdb.DuckDBPyConnection, field: Field, cell: str | None, *, local: bool) -> bool:
    held = "NULL::VARCHAR" if cell is None else text(cell)
    wrong = [f"coalesce({one}, false)" for one in failures(field, local_times=local).values()]
    query = f"SELECT {' OR '.join(wrong or ['false'])} FROM (SELECT {held} AS cell)"
    return con.execute(query).fetchall() == [(True,)]


@pytest.mark.parametrize("local", [True, False])
@pytest.mark.parametrize("field", FIELDS, ids=lambda field: f"{field.type}-{field.required}")
def test_what_is_surely_fine_is_fine(con, field: Field, local: bool) -> None:  # noqa: ANN001
    sure = surely_fine(field, local_times=local)
    assert [cell for cell in CELLS if sure(cell) and _wrong(con, field, cell, local=local)] == []
    assert any(map(sure, CELLS))
    assert not all(map(sure, CELLS))


@settings(settings.get_profile("costly"))
@given(cell=st.text(max_size=12) | st.from_regex(r"-?[0-9]+([.][0-9]+)?(e[0-9]+)?", fullmatch=True))
def test_no_cell_at_all_is_surely_fine_and_wrong(started, cell: str) -> None:  # noqa: ANN001
    held = cell.replace("\x00", "")
    sure = [field for field in FIELDS if surely_fine(field, local_times=True)(held)]
    assert [field for field in sure if _wrong(started, field, held, local=True)] == []


@pytest.mark.parametrize("cell", ["a-b", "measured", "98.2", "2026-10-05", "16", "harbour dawn, 2"])
def test_what_most_sets_hold_is_surely_fine_of_some_column(cell: str) -> None:
    assert any(surely_fine(field, local_times=True)(cell) for field in FIELDS if field.required)


@pytest.mark.parametrize("field", FIELDS, ids=lambda field: f"{field.type}-{field.required}")
def test_a_first_look_calls_no_wrong_cell_fine(con, field: Field) -> None:  # noqa: ANN001
    look = fine(field, local_times=True, first_look=True)
    for cell in CELLS:
        held = "NULL::VARCHAR" if cell is None else text(cell)
        seen = con.execute(f"SELECT {look} FROM (SELECT {held} AS cell)").fetchone()
        assert not (seen == (True,) and _wrong(con, field, cell, local=True)), cell
