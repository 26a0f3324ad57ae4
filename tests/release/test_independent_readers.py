"""Readers that know nothing of this project find the same values in every table, cell by cell.

The readers are those of ci/readers/programs.py, which says what each is; the command
``python ci/readers/compare.py`` lets all of them read every release of the demonstration.
"""

from __future__ import annotations

import importlib
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    from rigledger.release.write import ReleaseResult

FOLDER = Path(__file__).resolve().parents[2] / "ci" / "readers"
QUICK = ["frictionless", "DuckDB", "DuckDB Parquet", "pandas", "pandas Parquet", "dplib-py"]


@pytest.fixture(scope="module")
def readers() -> Any:  # noqa: ANN401 - a module of ci/readers
    sys.path.append(str(FOLDER))
    try:
        return importlib.import_module("compare")
    finally:
        sys.path.remove(str(FOLDER))


@pytest.fixture(scope="module")
def altered(published: ReleaseResult, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy in which one number of one Parquet table is another."""
    import duckdb

    folder = shutil.copytree(published.folder, tmp_path_factory.mktemp("altered") / "release")
    path = folder / "data" / "measurements.parquet"
    with duckdb.connect() as con:
        con.execute(f"CREATE TABLE held AS FROM '{path}'")
        con.execute("UPDATE held SET value = value + 1e-9 WHERE rowid = 4")
        con.execute(f"COPY held TO '{path}'")
    return folder


def wrong(compared: list[Any]) -> dict[str, tuple[str, ...]]:
    return {one.table: one.differences for one in compared if one.differences}


@pytest.mark.parametrize("reader", QUICK)
def test_each_table_is_read_with_the_same_values(
    readers: Any,  # noqa: ANN401
    published: ReleaseResult,
    reader: str,
) -> None:
    compared = readers.compare(reader, published.folder)
    assert wrong(compared) == {}
    assert {"runs", "cells", "comparisons"} <= {one.table for one in compared if one.cells}


@pytest.mark.slow
@pytest.mark.parametrize("reader", ["PyPI datapackage", "npm datapackage"])
def test_the_older_readers_find_the_same_values(
    readers: Any,  # noqa: ANN401
    published: ReleaseResult,
    reader: str,
) -> None:
    if reader.startswith("npm") and shutil.which("npm") is None:
        pytest.skip("npm is not installed")
    assert wrong(readers.compare(reader, published.folder)) == {}


def test_a_value_that_is_read_otherwise_is_named(
    readers: Any,  # noqa: ANN401
    altered: Path,
) -> None:
    found = wrong(readers.compare("pandas Parquet", altered))
    ((table, (text,)),) = found.items()
    assert table == "measurements"
    assert text.startswith("row 5, value: ")


def test_another_type_and_a_row_too_few_are_differences(readers: Any) -> None:  # noqa: ANN401
    assert readers.differences([[1], [2]], [[1.0]], ["n"]) == [
        "1 rows instead of 2",
        "row 1, n: 1 is read as 1.0",
        "row 2, n: 2 is read as None",
    ]
