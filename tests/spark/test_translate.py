"""Every statement of the tables and of the captures' metrics is one of Spark too."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

sqlglot = pytest.importorskip("sqlglot", reason="the extra spark is not installed")

from sqlglot import exp  # noqa: E402 - it may be missing

from rigledger.spark.frames import frame_queries  # noqa: E402
from rigledger.spark.session import C_FUNCTIONS  # noqa: E402
from rigledger.spark.translate import (  # noqa: E402
    CAPTURES_SQL,
    NOT_TRANSLATED,
    statement_files,
    text_of,
    translated,
)
from rigledger.tables.build import DERIVED_TABLES, FILLERS  # noqa: E402
from rigledger.tables.workshop import SQL_FOLDER  # noqa: E402

if TYPE_CHECKING:
    from rigledger.contract import Contract

TEMPLATES = {"frame_metrics.sql", "used_windows.sql", "whole_captures.sql", "windows.sql"}
FILES = [path for path in statement_files() if path.name not in TEMPLATES]
# All that Spark's grammar or its list of functions doesn't have, of what the statements use.
DUCKDB_ONLY = (exp.Qualify, exp.List, exp.GenerateSeries, exp.Unnest)


def spoken(text: str) -> exp.Expression:
    """Read a translated statement again, as Spark's SQL."""
    (tree,) = sqlglot.parse(text, read="spark", error_level=sqlglot.ErrorLevel.RAISE)
    return tree


def left_over(tree: exp.Expression) -> list[str]:
    """List what of a statement Spark doesn't know."""
    unknown = [f.name for f in tree.find_all(exp.Anonymous) if f.name.lower() not in C_FUNCTIONS]
    nodes = [node.sql("spark") for node in tree.find_all(*DUCKDB_ONLY)]
    schemas = [table.sql("spark") for table in tree.find_all(exp.Table) if table.db]
    distinct_on = [d.sql("spark") for d in tree.find_all(exp.Distinct) if d.args.get("on")]
    by_name = [u.sql("spark") for u in tree.find_all(exp.Union) if u.args.get("by_name")]
    windows = [w.sql("spark") for w in tree.find_all(exp.Window) if w.args.get("alias")]
    parameters = [node.sql("spark") for node in tree.find_all(exp.Placeholder, exp.Parameter)]
    return [*unknown, *nodes, *schemas, *distinct_on, *by_name, *windows, *parameters]


@pytest.mark.parametrize("path", FILES, ids=[path.stem for path in FILES])
def test_a_statement_of_the_tables_is_one_of_spark(path) -> None:  # noqa: ANN001
    assert left_over(spoken(translated(text_of(path)))) == []


def test_the_statements_from_frames_to_metrics_are_ones_of_spark(contract: Contract) -> None:
    queries = frame_queries(tuple(contract.metrics.values()), longest=100_000)

    assert {name: left_over(spoken(translated(query))) for name, query in queries.items()} == {
        "frame_metrics_places": [],
        "frame_metrics_windows": [],
        "reduced_runs": [],
        "frame_metrics": [],
    }


def test_what_duckdb_alone_says_would_be_found() -> None:
    said = "select list_zip(a, b) from work.t qualify row_number() over (w order by a) = 1"

    assert left_over(sqlglot.parse_one(said, read="duckdb")) != []


def test_no_table_is_left_out() -> None:
    held = {path.relative_to(SQL_FOLDER).as_posix() for path in FILES if SQL_FOLDER in path.parents}
    needed = {
        f"work/{table.name}.sql"
        for path in FILES
        for table in sqlglot.parse_one(text_of(path), read="duckdb").find_all(exp.Table)
        if table.db == "work" and table.name not in FILLERS
    }

    assert set() == ({f"{name}.sql" for name in DERIVED_TABLES} | needed) - held
    assert TEMPLATES | set(NOT_TRANSLATED) == {path.name for path in CAPTURES_SQL.glob("*.sql")}
