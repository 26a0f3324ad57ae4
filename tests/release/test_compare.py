"""Cell by cell comparison of two tables, with the tolerance of the second promise."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Protocol

import pytest

from rigledger.contract.model import Field, Table
from rigledger.release.compare import CellDifference, cell_differences

if TYPE_CHECKING:
    import duckdb

TABLE = Table(
    "values", "derived", "Values", "Values.",
    (
        Field("key", "Key", "Key.", "string"),
        Field("word", "Word", "Word.", "string"),
        Field("value", "Value", "Value.", "number"),
    ),
    primary_key=("key",),
)  # fmt: skip


class Compared(Protocol):
    """Compares two tables, given as rows of VALUES."""

    def __call__(self, left: str, right: str) -> list[CellDifference]: ...


@pytest.fixture
def compared(con: duckdb.DuckDBPyConnection) -> Compared:
    return partial(cells_compared, con)


def cells_compared(con: duckdb.DuckDBPyConnection, left: str, right: str) -> list[CellDifference]:
    for name, rows in (("a", left), ("b", right)):
        con.execute(
            f"CREATE TABLE {name} AS SELECT CAST(key AS VARCHAR) AS key, CAST(word AS VARCHAR) AS "
            f"word, CAST(value AS DOUBLE) AS value FROM (VALUES {rows}) AS t(key, word, value)"
        )
    return cell_differences(con, TABLE, "a", "b")


@pytest.mark.parametrize(
    ("left", "right", "same"),
    [
        (100.0, 100.0 + 9e-8, True), (100.0, 100.0 + 2e-7, False), (1e-60, 1.0000000005e-60, True),
        (0.0, 5e-13, True), (0.0, 5e-12, False), (-100.0, 100.0, False), (None, None, True),
        (None, 1.0, False), (1.0, None, False), (1.0, float("nan"), False),
    ],
)  # fmt: skip
def test_numbers_are_the_same_within_one_part_in_a_thousand_million(
    compared: Compared, left: float | None, right: float | None, same: bool
) -> None:
    def row(value: float | None) -> str:
        return f"('k', 'w', {'NULL' if value is None else repr(str(value))})"

    assert (compared(row(left), row(right)) == []) is same


def test_words_and_rows_are_named_by_key(compared: Compared) -> None:
    assert compared("('k', 'w', 1), ('l', 'w', 1)", "('k', 'v', 1), ('m', 'w', 1)") == [
        CellDifference("key=l", None, "row", None),
        CellDifference("key=m", None, None, "row"),
        CellDifference("key=k", "word", "w", "v"),
    ]
