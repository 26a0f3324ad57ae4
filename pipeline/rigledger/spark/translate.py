"""Translates the tables' statements from DuckDB's SQL to that of Apache Spark.

Most of it is sqlglot's work. What it doesn't carry over, or carries over with another meaning, is
rewritten before by the functions of `rewritings`, each of which says why it is there. A statement
that can't be carried over is an error, never a guess.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import ClassVar

from sqlglot import ErrorLevel, errors, exp, parse_one

from rigledger import captures
from rigledger.errors import RigledgerError
from rigledger.spark.rewritings import REWRITINGS
from rigledger.tables.workshop import SQL_FOLDER

CAPTURES_SQL = Path(captures.__file__).parent / "sql"

NOT_TRANSLATED = ("capture_patterns.sql", "capture_summaries.sql")
"""Statements of captures that look at a file as it is handed in, before it is anywhere else."""


class TranslationError(RigledgerError, ValueError):
    """A statement uses what Spark has no twin for."""

    code: ClassVar[str] = "spark_translation"


def statement_files() -> list[Path]:
    """List the files of all statements that lead to tables, or from frames to metrics.

    Statements with a parameter lead to no table: they make sentences for a person, out of tables
    that are there.
    """
    folders = (SQL_FOLDER, SQL_FOLDER / "work")
    of_folders = [path for folder in folders for path in folder.glob("*.sql")]
    of_tables = [path for path in of_folders if "$" not in text_of(path)]
    of_captures = [path for path in CAPTURES_SQL.glob("*.sql") if path.name not in NOT_TRANSLATED]
    return sorted(of_tables + of_captures)


def text_of(path: Path) -> str:
    """Give the text of a statement's file."""
    return path.read_text(encoding="utf-8")


@cache
def translated(statement: str) -> str:
    """Translate one query; of a statement that makes a table, the query that it is made from.

    Args:
        statement: A query in DuckDB's SQL.

    Returns:
        The same query in Spark's SQL. Tables of the schema ``work`` are views named ``work_…``.

    Raises:
        TranslationError: The statement can't be read, or holds what Spark has no twin for.
    """
    try:
        tree = parse_one(statement, read="duckdb")
        query = tree.expression if isinstance(tree, exp.Create) else tree
        for rewrite in REWRITINGS:
            rewrite(query)
        return str(query.sql("spark", comments=False, unsupported_level=ErrorLevel.RAISE))
    except errors.SqlglotError as error:
        raise TranslationError(
            f"the statement can't be said in Spark's SQL: {str(error).splitlines()[0]}",
            value=statement.strip().splitlines()[0],
            next_step="say it in SQL that both have, or add a rewriting to spark/rewritings.py",
        ) from error
