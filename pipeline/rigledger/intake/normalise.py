"""Turns an admitted set into rows of the source tables, by the path that `check` takes."""

from __future__ import annotations

import tempfile
from dataclasses import dataclass
from importlib.resources import files
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from rigledger.contract.load import load_contract
from rigledger.database import planned_plainly
from rigledger.files import sha256sums
from rigledger.intake.captures import hash_captures
from rigledger.intake.database import are_small, drop_schemas, make_schemas
from rigledger.intake.formulas import neutralise
from rigledger.intake.gate import IntakeError, inspect
from rigledger.intake.log import FindingLog
from rigledger.intake.readset import TextSet, read_set, wide_tables
from rigledger.intake.typed import make_typed
from rigledger.signing import UNSIGNED

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

    from rigledger.remembered import Remembered

SOURCES = (
    "contributors", "platforms", "cards", "rigs", "stacks", "sessions", "facts", "captures", "runs",
    "measurements",
)  # fmt: skip
"""Source tables that a set adds rows to; each has its query in intake/sql/."""


@dataclass(frozen=True, slots=True)
class LoadedSet:
    """What a loaded set said of itself.

    Attributes:
        set_id: ``contributor.set``.
        contributor: Who handed it in.
        said: The cells of its table ``set``, as text.
        rows: How many rows each source table got.
    """

    set_id: str
    contributor: str
    said: dict[str, str]
    rows: dict[str, int]


def set_hash(folder: Path) -> str:
    """Give a set's hash: the SHA-256 of the text of its SHA256SUMS over the files as handed in."""
    import hashlib

    return hashlib.sha256(sha256sums(folder, UNSIGNED).encode("utf-8")).hexdigest()


def load_set(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    study_folder: Path | None = None,
    remembered: Remembered | None = None,
    sums: Mapping[str, str] = MappingProxyType({}),
) -> LoadedSet:
    """Insert the rows of an admitted set into the source tables of ``con``.

    Nothing is judged again: a cell that can't be read stays null.

    Args:
        con: Holds the source tables of the contract; the rows are appended.
        path: The set as handed in: folder, archive or workbook.
        study_folder: The study, whose captures are told apart from those kept elsewhere.
        remembered: What was read from captures with the same bytes.
        sums: Path in the folder to SHA-256 of files that were hashed just now.

    Returns:
        What the set said of itself.

    Raises:
        IntakeError: The set may not be opened or doesn't say whose it is.
    """
    contract = load_contract()
    with tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as name:
        scratch = Path(name)
        log = FindingLog(contract)
        seen = inspect(path, scratch, count_unpacked=False)
        if seen.folder is None:
            raise IntakeError(
                "the set may not be opened", file=str(path), next_step="check it first"
            )
        make_schemas(con)
        # Captures lie in folders; their bytes don't count where only tables are worked on.
        small = are_small(seen.folder, [name for name in seen.files if "/" not in name])
        try:
            with planned_plainly(con, small=small):
                held = read_set(con, seen.folder, seen.files, log, scratch)
                make_typed(con, held, contract)
                for table in wide_tables(contract).values():
                    neutralise(con, table)
            hash_captures(
                con, held, seen.folder, study_folder, log, remembered=remembered, sums=sums
            )
            with planned_plainly(con, small=small):
                return _insert(con, held, path)
        finally:
            drop_schemas(con)


def _insert(con: duckdb.DuckDBPyConnection, held: TextSet, path: Path) -> LoadedSet:
    said = held.manifest.set
    if not {"contributor", "set"} <= set(said):
        raise IntakeError(
            "the set doesn't say whose it is", file=str(path), next_step="check it first"
        )
    rows = {}
    for name in SOURCES:
        query = files("rigledger.intake").joinpath("sql", f"{name}.sql").read_text(encoding="utf-8")
        counted = con.execute(f"INSERT INTO main.{name} BY NAME\n{query}").fetchone()
        rows[name] = int(counted[0]) if counted else 0
    return LoadedSet(f"{said['contributor']}.{said['set']}", said["contributor"], said, rows)
