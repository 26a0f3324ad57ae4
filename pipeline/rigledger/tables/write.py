"""Builds a study's derived tables and writes them as files."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.claims.read import read_claims
from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.files import folder_beside
from rigledger.study.load import load_source
from rigledger.tables.build import DERIVED_TABLES, build_tables
from rigledger.tabular import column_names, write_csv, write_parquet

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract import Contract
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design


@dataclass(frozen=True)
class Built:
    """A study's tables in a connection, and what they were built from.

    Attributes:
        con: Connection that holds the source tables and the derived ones.
        design: The study's design.
        contract: The contract.
    """

    con: duckdb.DuckDBPyConnection
    design: Design
    contract: Contract


def build_study(study: StudyFolder, *, threads: int = 2) -> Built:
    """Load a study's source tables and build its derived ones.

    Args:
        study: The study.
        threads: Threads of the database; the tables don't depend on it.

    Raises:
        StudyError: The study's files are wrong.
    """
    contract = load_contract()
    con = connect(threads=threads)
    design = load_source(study, con, contract)
    build_tables(con, design, contract, claims=read_claims(study.claims, design, contract))
    return Built(con, design, contract)


def write_tables(built: Built, out: Path) -> dict[str, int]:
    """Write the derived tables as CSV and Parquet; an earlier folder is replaced when all is done.

    Args:
        built: The tables.
        out: Folder to write.

    Returns:
        Number of rows by table.
    """
    rows = {}
    fresh = out.with_name(f"{out.name}.new")
    shutil.rmtree(fresh, ignore_errors=True)
    with folder_beside(fresh) as folder:
        for name in DERIVED_TABLES:
            rows[name] = _write(built, name, folder)
    shutil.rmtree(out, ignore_errors=True)
    fresh.rename(out)
    return rows


def _write(built: Built, name: str, folder: Path) -> int:
    held = set(column_names(built.con, name))
    metrics = tuple(item for item in built.contract.metrics if item in held)
    table = built.contract.wide("derived", name, metrics)
    write_csv(built.con, table, folder / f"{name}.csv")
    write_parquet(built.con, table, folder / f"{name}.parquet")
    (count,) = built.con.execute(f'select count(*) from "{name}"').fetchone() or (0,)
    return int(count)
