"""The database that reads handed-in files: locked to their folder and our scratch."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import duckdb

from rigledger.contract.sql_text import text
from rigledger.database import plan_plainly
from rigledger.intake.limits import limit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path


_SMALL = 200_000
_PACKED = (".xlsx", ".parquet")


@contextmanager
def locked_database(
    folder: Path, scratch: Path, *, small: bool = False
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open an in-memory database for files from a stranger.

    The order of the later settings matters: lists of what is allowed come before outside access
    is switched off, and the lock comes last, so that nothing read later can loosen anything.

    Args:
        folder: Folder of the set; read by the database, written by nobody.
        scratch: Folder of ours for spooled tables and for what doesn't fit in memory.
        small: Whether the files that will be read are small (`are_small`): then the database takes
            statements as they are written, with one thread, which is quicker than to look for the
            best way.

    Yields:
        The connection, with the schemas ``intake``, ``handed``, ``study`` and ``admitted``.
    """
    spill = scratch / "spill"
    allowed = f"[{text(str(folder.resolve()))}, {text(str(scratch.resolve()))}]"
    con = duckdb.connect(
        config={
            "allow_community_extensions": False,
            "autoinstall_known_extensions": False,
            "autoload_known_extensions": False,
            "memory_limit": f"{limit('parse.database_mb')}MB",
            "threads": 1 if small else 2,
            "temp_directory": str(spill),
            "max_temp_directory_size": f"{limit('parse.spill_mb')}MB",
        }
    )
    try:
        if small:
            plan_plainly(con)
        for setting in (
            "enable_progress_bar=false",  # it would print between the lines of --json
            f"allowed_directories={allowed}",
            "enable_external_access=false",
            "lock_configuration=true",
        ):
            con.execute(f"SET {setting}")
        make_schemas(con)
        yield con
    finally:
        con.close()


def are_small(folder: Path, files: Iterable[str]) -> bool:
    """Whether files are small, all of them together; bytes of packed ones count tenfold."""
    sizes = (
        (folder / name).stat().st_size * (10 if name.lower().endswith(_PACKED) else 1)
        for name in files
    )
    return sum(sizes) < _SMALL


def make_schemas(con: duckdb.DuckDBPyConnection) -> None:
    """Create the schemas that intake works in."""
    for name in ("intake", "handed", "study", "admitted"):
        con.execute(f"CREATE SCHEMA IF NOT EXISTS {name}")


def drop_schemas(con: duckdb.DuckDBPyConnection) -> None:
    """Drop the schemas that intake works in, with all they hold."""
    for name in ("handed", "study", "admitted", "intake"):
        con.execute(f"DROP SCHEMA IF EXISTS {name} CASCADE")
