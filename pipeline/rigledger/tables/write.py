"""Builds a study's derived tables and writes them as files."""

from __future__ import annotations

import re
from contextlib import suppress
from dataclasses import dataclass
from itertools import count
from typing import TYPE_CHECKING

from rigledger.claims.read import read_claims
from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.files import folder_beside, point_to, pointed, remove, sweep
from rigledger.garbage import searched_later
from rigledger.remembered import Remembered
from rigledger.storage import told_storage_errors
from rigledger.study.housekeeping import keep_out_of_versions
from rigledger.study.locking import locked
from rigledger.tables.analysis import STATISTICS
from rigledger.tables.build import DERIVED_TABLES, build_tables
from rigledger.tabular import column_names, write_both

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract import Contract, Table
    from rigledger.study.begun import Begun
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design

POINTER = "current"
_OWN = re.compile(r"tables-[0-9]+")


@dataclass(frozen=True)
class Built:
    """A study's tables in a connection, and what they were built from.

    Attributes:
        con: Connection that holds the source tables and the derived ones.
        design: The study's design.
        contract: The contract.
        kept: Whether they were kept from before, and claims may have changed since.
    """

    con: duckdb.DuckDBPyConnection
    design: Design
    contract: Contract
    kept: bool = False


def build_study(study: StudyFolder, *, threads: int = 2, begun: Begun | None = None) -> Built:
    """Load a study's source tables and build its derived ones.

    Args:
        study: The study.
        threads: Threads of the database; the tables don't depend on it.
        begun: What was loaded of the study already.

    Raises:
        StudyError: The study's files are wrong.
    """
    # Loaded only here: of tables that are kept, nothing is read again.
    from rigledger.study.load import load_source

    contract = load_contract()
    con = connect(threads=threads) if begun is None else begun.sets.con
    design = load_source(study, con, contract, begun=begun)
    remembered = Remembered(study.kept / STATISTICS)
    claims = read_claims(study.claims, design, contract)
    build_tables(con, design, contract, claims=claims, remembered=remembered)
    if keep_out_of_versions(study):
        remembered.keep()
    return Built(con, design, contract)


def rebuild_tables(
    study: StudyFolder, out: Path | None = None, *, threads: int = 2
) -> tuple[Built, dict[str, int]]:
    """Build a study's derived tables and write them, as the one writer of the study.

    Tables that are kept for the same inputs are not built again, but for the claims.

    Args:
        study: The study.
        out: Folder to write; None for ``derived`` in the study's folder.
        threads: Threads of the database; the tables don't depend on it.

    Returns:
        The tables, and the number of rows of each.

    Raises:
        StudyError: The study's files are wrong.
        StudyLockedError: Another process is writing to the study.
        StorageError: The disk refuses, or a file vanished; the tables before are still current.
    """
    from rigledger.tables.kept import kept_study

    # Tables written elsewhere ask for no right to write in the study.
    within = out is None or out.resolve().is_relative_to(study.root.resolve())
    with searched_later(), locked(study, "tables") if within else told_storage_errors():
        built = kept_study(study, threads=threads)
        if built.kept:
            claims = read_claims(study.claims, built.design, built.contract)
            build_tables(built.con, built.design, built.contract, tables=["claims"], claims=claims)
        return built, write_tables(built, out or study.derived)


def write_tables(built: Built, out: Path) -> dict[str, int]:
    """Write the derived tables as CSV and Parquet into a folder of their own, and make it current.

    The tables lie in ``out/tables-1`` or a higher number; ``out/current`` points to them and is
    replaced in one step when all are written. The folder that it pointed to before goes then.

    Args:
        built: The tables.
        out: Folder to write. What else is in it stays.

    Returns:
        Number of rows by table.

    Raises:
        OSError: The disk refuses; the tables that were current still are.
    """
    sweep(out)
    _remove_all_but(out, pointed(out / POINTER))
    fresh = _free(out)
    with folder_beside(fresh) as folder:
        rows = _write(built, folder)
    point_to(out / POINTER, fresh.name)
    _remove_all_but(out, fresh)
    return rows


def current_tables(out: Path) -> Path | None:
    """Give the folder that holds the tables last written to ``out``; None before the first time.

    Its path stays the same from one build to the next where the system has symbolic links.
    """
    pointer = out / POINTER
    return pointer if pointer.is_dir() else pointed(pointer)


def _free(out: Path) -> Path:
    return next(path for n in count(1) if not (path := out / f"tables-{n}").exists())


def _remove_all_but(out: Path, current: Path | None) -> None:
    """Remove earlier tables; on Windows those that another program has open stay till later."""
    for path in sorted(out.glob("tables-*")):
        if _OWN.fullmatch(path.name) and path != current:
            with suppress(PermissionError):
                remove(path)
    # Until now they lay in the folder itself, where they would pass for current ones.
    for name in DERIVED_TABLES if current else ():
        for ending in ("csv", "parquet"):
            if (old := out / f"{name}.{ending}").is_file():
                remove(old)


def _write(built: Built, folder: Path) -> dict[str, int]:
    tables = [_as_built(built, name) for name in DERIVED_TABLES]
    write_both(
        built.con,
        [(held, folder / f"{held.name}.csv", folder / f"{held.name}.parquet") for held in tables],
        DERIVED_TABLES,
    )
    counts = ", ".join(f'(select count(*) from "{held.name}")' for held in tables)
    found = built.con.execute(f"select {counts}").fetchone() or ()
    return {held.name: int(rows) for held, rows in zip(tables, found, strict=True)}


def _as_built(built: Built, name: str) -> Table:
    """Give a table with the metric columns that it holds."""
    held = set(column_names(built.con, name))
    metrics = tuple(item for item in built.contract.metrics if item in held)
    return built.contract.wide("derived", name, metrics)
