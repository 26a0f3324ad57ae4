"""Keeps a study's built tables, so that nothing is computed again while nothing has changed.

The key is a hash over everything the tables follow from: the study's own files, the files of all
its sets, which captures are there, and this program with its schema and database. The kept file is
a convenience: where it can't be written or read, the tables are built.
"""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import duckdb

from rigledger.contract import load_contract
from rigledger.contract.sql_text import literal
from rigledger.database import connect
from rigledger.errors import MissingExtraError
from rigledger.files import LEFT_OVER, beside, files_below, sha256_of, write_text
from rigledger.remembered import code_sha256, versions_of
from rigledger.storage import StorageError
from rigledger.study.design import read_design
from rigledger.study.housekeeping import keep_out_of_versions
from rigledger.study.inputs import input_hashes
from rigledger.study.locking import StudyLockedError, locked
from rigledger.tables import write
from rigledger.tables.write import Built

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from rigledger.study.ahead import LoadedAhead
    from rigledger.study.layout import StudyFolder

_NAME = "tables.duckdb"
_NOTE = "tables.txt"
# What computes the tables beside this program.
_PACKAGES = ("duckdb", "numpy", "polars", "pyarrow", "scipy")


def kept_study(study: StudyFolder, *, threads: int = 2, ahead: LoadedAhead | None = None) -> Built:
    """Give a study's tables: as kept, or built now and kept for the next time.

    Args:
        study: The study.
        threads: Threads of the database; the tables don't depend on it.
        ahead: What was loaded of the study already, for where they have to be built.

    Raises:
        StudyError: The study's files are wrong.
    """
    hashes = input_hashes(study)
    key = key_of(study, hashes)
    found = found_study(study, threads=threads, key=key)
    if found is not None:
        return found
    begun = None if ahead is None else ahead.still_holds(hashes)
    built = write.build_study(study, threads=threads, begun=begun)
    if key_of(study) == key:
        _keep(built, study, key)
    return built


def found_study(
    study: StudyFolder, *, threads: int | None = 2, key: str | None = None
) -> Built | None:
    """Give a study's tables where they are kept; None where they would have to be built.

    The table of claims may be of other claims than the study states by now.

    Args:
        study: The study.
        threads: Threads of the database; None for its own choice.
        key: The key of the study, where it is known already.

    Raises:
        StudyError: The study's files are wrong.
    """
    con = _read(study, key or key_of(study), threads)
    if con is None:
        return None
    contract = load_contract()
    return Built(con, read_design(study.toml, contract), contract, kept=True)


def key_of(study: StudyFolder, hashes: Mapping[str, str] | None = None) -> str:
    """Hash everything that the tables of a study follow from.

    Args:
        study: The study.
        hashes: What `input_hashes` gives, where it is known already.
    """
    digest = hashlib.sha256()
    for line in _inputs(study, input_hashes(study) if hashes is None else hashes):
        digest.update(line.encode("utf-8") + b"\n")
    return digest.hexdigest()


def _inputs(study: StudyFolder, hashes: Mapping[str, str]) -> Iterator[str]:
    yield f"program {code_sha256()} {versions_of(*_PACKAGES)}"
    for name, sha256 in hashes.items():
        yield f"{name} {sha256}"
    for name in files_below(study.captures) if study.captures.is_dir() else ():
        if not LEFT_OVER.fullmatch(name):
            yield f"captures/{name}"


def _read(study: StudyFolder, key: str, threads: int | None) -> duckdb.DuckDBPyConnection | None:
    """Load the kept tables into a connection of their own.

    None where they are for other inputs, or the file is not the one that was kept.
    """
    path, note = study.kept / _NAME, study.kept / _NOTE
    try:
        if note.read_text(encoding="utf-8").split() != [key, sha256_of(path)]:
            return None
    except (OSError, ValueError):
        return None
    con = connect(threads=threads)
    try:
        con.execute(f"attach {literal(path.as_posix())} as kept (read_only)")
        con.execute("copy from database kept to memory")
        con.execute("detach kept")
    except duckdb.Error:
        con.close()
        return None
    return con


def _keep(built: Built, study: StudyFolder, key: str) -> None:
    """Keep tables for the next time, unless another process is writing or nothing can be."""
    path = study.kept / _NAME
    try:
        with locked(study, "tables (kept for the next time)", wait=0):
            keep_out_of_versions(study)
            with beside(path) as temporary:
                built.con.execute(f"attach {literal(temporary.as_posix())} as kept")
                try:
                    built.con.execute("copy from database memory to kept")
                finally:
                    built.con.execute("detach kept")
            write_text(study.kept / _NOTE, f"{key} {sha256_of(path)}\n")
    except (StudyLockedError, StorageError, MissingExtraError, OSError, duckdb.Error):
        return
