# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""The database that reads strangers' files can be loosened by nothing it reads."""

from __future__ import annotations

import duckdb
import pytest

from rigledger.intake.database import locked_database


@pytest.fixture
def con(tmp_path):
    for name in ("set", "scratch"):
        (tmp_path / name).mkdir()
    (tmp_path / "set" / "runs.csv").write_text("a\n1\n", encoding="utf-8")
    (tmp_path / "secret.csv").write_text("a\n2\n", encoding="utf-8")
    with locked_database(tmp_path / "set", tmp_path / "scratch") as opened:
        yield opened


def test_it_reads_the_set(con, tmp_path):
    path = tmp_path / "set" / "runs.csv"
    assert con.execute(f"FROM read_csv('{path}')").fetchall() == [(1,)]


@pytest.mark.parametrize(
    "statement",
    [
        "FROM read_csv('{root}/secret.csv')",
        "FROM read_csv('{root}/set/../secret.csv')",
        "FROM read_text('/etc/passwd')",
        "FROM glob('/etc/*')",
        "FROM read_csv('http://127.0.0.1:9/x.csv')",
        "ATTACH '{root}/other.duckdb'",
        "COPY (SELECT 1) TO '{root}/out.csv'",
        "INSTALL httpfs",
        "LOAD httpfs",
        "SET enable_external_access=true",
        "SET memory_limit='100GB'",
        "RESET lock_configuration",
    ],
)
def test_it_refuses_everything_else(con, tmp_path, statement):
    with pytest.raises(duckdb.Error):
        con.execute(statement.format(root=tmp_path)).fetchall()


def test_it_prints_no_progress(con):
    assert con.execute("SELECT current_setting('enable_progress_bar')").fetchone() == (False,)
