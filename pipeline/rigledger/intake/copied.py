"""Finds captures of a set whose frame times are those of a set in the study.

The study's store knows whether it holds frame times; in which set they are is asked only of those
that it holds, and only then are the captures of other sets hashed.
"""

from __future__ import annotations

import tempfile
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.captures.store import CaptureStore
from rigledger.contract.load import load_contract
from rigledger.files import sha256_of
from rigledger.intake.captures import hash_captures
from rigledger.intake.log import FindingLog
from rigledger.intake.opened import opened_set
from rigledger.remembered import Remembered, key_of, versions_of
from rigledger.signing import SUMS

if TYPE_CHECKING:
    import duckdb


def find_copied_captures(con: duckdb.DuckDBPyConnection) -> None:
    """Fill ``admitted.captures`` with those captures of other sets that the set holds too.

    Args:
        con: The database, with ``handed.captures`` filled and ``admitted.folders``.
    """
    folders = con.execute("SELECT set_id, folder, study FROM admitted.folders").fetchall()
    captures = {
        str(row[0]) for row in con.execute("SELECT capture FROM handed.captures").fetchall()
    }
    if not folders or not captures:
        return
    study = Path(folders[0][2])
    suspects = _suspects(captures, study / "captures")
    if not suspects:
        return
    rows = [
        (set_id, capture)
        for set_id, folder, _ in sorted(folders)
        for capture in sorted(suspects.intersection(_captures_of(Path(folder), study)))
    ]
    if rows:
        con.executemany("INSERT INTO admitted.captures VALUES (?, ?)", rows)


def _suspects(captures: set[str], place: Path) -> set[str]:
    """Leave those captures that the store holds; all of them where the store was not kept."""
    if not place.is_dir():
        return captures
    store = CaptureStore(place)
    return {capture for capture in captures if capture in store}


def _captures_of(folder: Path, study: Path) -> list[str]:
    """List the captures of an admitted set by their hashes; found once in a process."""
    sums = folder / SUMS
    if not sums.is_file():
        return []
    key = key_of("captures of a set", sha256_of(sums), versions_of("duckdb", "pyarrow"))
    found: list[str] = Remembered().recall(key, partial(_hashed, folder, study))
    return found


def _hashed(folder: Path, study: Path) -> list[str]:
    log = FindingLog(load_contract())
    with (
        tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as name,
        opened_set(folder, Path(name), log) as opened,
    ):
        if opened is None:
            return []
        remembered = Remembered(study / ".rigledger" / "captures.json")
        con = opened.con
        hash_captures(con, opened.held, opened.folder, None, log, remembered=remembered)
        rows = con.execute("SELECT DISTINCT capture FROM handed.captures ORDER BY ALL")
        return [str(row[0]) for row in rows.fetchall()]
