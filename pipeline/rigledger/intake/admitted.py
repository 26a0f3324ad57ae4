"""What rules that look for repeats and swaps read of the admitted sets."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import text
from rigledger.intake.extracts import PARTS, copy_kept, make_extract

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Contract

_OF_CAPTURES = {
    "folders": "set_id VARCHAR, folder VARCHAR, study VARCHAR",
    "captures": "set_id VARCHAR, capture VARCHAR",
}


@dataclass(frozen=True, slots=True)
class _Other:
    """A set in force: its folder, its id, its hash as decided, and where its study keeps things."""

    folder: Path
    set_id: str
    sha256: str
    kept: Path


def make_admitted(
    con: duckdb.DuckDBPyConnection,
    study: Path | None,
    scratch: Path,
    contract: Contract,
    *,
    shared: Path | None = None,
    extracts: Path | None = None,
) -> bool:
    """Create ``admitted.blocks``, ``.sessions`` and ``.rigs`` from the extracts of sets in force.

    ``admitted.folders`` says where the sets lie; ``admitted.captures`` is there to be filled.

    The set at hand itself and the one that it replaces are left out, and so are superseded and
    withdrawn ones.

    Args:
        con: The database, with ``handed.*`` of the set at hand.
        study: The study's folder; None where there is none.
        scratch: Folder of ours, which the database may read.
        contract: The contract.
        shared: Folder of ours that several checks share: what one has read of a set, the others
            take. None where there are no others.
        extracts: Folder to be made for the extracts that the study does not keep yet.

    Returns:
        Whether there is any such set; where there is none, no table is made but those two.
    """
    for name, columns in _OF_CAPTURES.items():
        con.execute(f"CREATE TABLE admitted.{name} ({columns})")
    own = con.execute(
        "SELECT contributor || '.' || supersedes, contributor || '.' || set FROM handed.set"
    ).fetchone()
    others = [] if study is None else _in_force(study, own or ())
    if not others:
        return False
    places = [(one.set_id, one.folder.as_posix(), one.kept.parent.as_posix()) for one in others]
    con.executemany("INSERT INTO admitted.folders VALUES (?, ?, ?)", places)
    made = [scratch / f"admitted-{number}" for number in range(len(others))]
    for one, into in zip(others, made, strict=True):
        if copy_kept(one.kept, one.set_id, one.sha256, into):
            continue
        _extract(one.folder, into, contract, shared)
        if extracts is not None:
            shutil.copytree(into, extracts / one.set_id)
    for part in PARTS:
        parts = ", ".join(text(str(into / f"{part}.parquet")) for into in made)
        # The types of the set at hand are no pattern: its columns may have words of their own.
        read = f"read_parquet([{parts}], union_by_name=true)"
        con.execute(f"CREATE TABLE admitted.{part} AS SELECT * FROM {read}")
    return True


def _in_force(study: Path, left_out: tuple[str | None, ...]) -> list[_Other]:
    from rigledger.study.decisions import read_decisions
    from rigledger.study.layout import open_study

    held = open_study(study)
    if not held.decisions.is_file():
        return []
    return [
        _Other(held.set_folder(one.set_id), one.set_id, one.sha256, held.kept)
        for one in sorted(read_decisions(held.decisions).in_force, key=lambda one: one.set_id)
        if one.set_id not in left_out
    ]


def _extract(folder: Path, into: Path, contract: Contract, shared: Path | None) -> None:
    """Make an extract; one that is shared once for all checks that share it."""
    if shared is None:
        make_extract(folder, into, contract)
        return
    once = shared / folder.name
    if not once.is_dir():
        make_extract(folder, once, contract)
    # The database that checks a set may read no folder but that set's and its own.
    shutil.copytree(once, into)
