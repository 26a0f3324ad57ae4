"""What a check needs of every other set of its study: its cells' readings, sessions and rigs.

An extract is a folder of small files, made by reading the set once. An admission keeps those that
its check had to make in the study's folder ``.rigledger``: the next check reads no set again.
"""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text
from rigledger.files import keep_all, remove, sha256_of, write_text
from rigledger.intake.blocks import readings
from rigledger.intake.log import FindingLog
from rigledger.intake.opened import opened_set
from rigledger.remembered import code_sha256, key_of, versions_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from rigledger.contract.model import Contract

PARTS = ("blocks", "sessions", "rigs")
"""The files of an extract, each a Parquet file of this name."""

_FOLDER, _NOTE = "extracts", "extract.json"
_SET = "s.contributor || '.' || s.set AS set_id"


def make_extract(folder: Path, into: Path, contract: Contract) -> None:
    """Read an admitted set by itself and write its extract; an empty folder where it can't be.

    Args:
        folder: The set.
        into: Folder to make.
        contract: The contract.
    """
    into.mkdir(parents=True)
    with opened_set(folder, into, FindingLog(contract)) as opened:
        if opened is None:
            return
        for part, query in _queries(contract).items():
            made = text(str(into / f"{part}.parquet"))
            opened.con.execute(f"COPY ({query}) TO {made} (FORMAT parquet)")


def _queries(contract: Contract) -> dict[str, str]:
    """Give the query of each part; blocks have the same readings as ``handed.blocks``."""
    names = ", ".join(identifier(name) for name in contract.metrics)
    return {
        "blocks": f"SELECT {_SET}, b.* FROM ("
        f"SELECT workload, bit_xor(hash(pass, {readings(contract, contract.metrics)})) AS readings"
        f" FROM handed.runs WHERE role = 'measured' AND coalesce({names}) IS NOT NULL"
        " GROUP BY rig, session, workload, title_build, resolution, level HAVING count(*) >= 3"
        ") b, handed.set s",
        "sessions": f"SELECT {_SET}, s.contributor, r.rig, r.session, r.boot, r.started_on"
        " FROM handed.sessions r, handed.set s",
        "rigs": f"SELECT {_SET}, s.contributor, r.* EXCLUDE (_row)"
        " FROM handed.rigs r, handed.set s",
    }


def copy_kept(kept: Path, set_id: str, sha256: str, into: Path) -> bool:
    """Copy a set's extract from what a study keeps, where it is there and as it was written.

    Args:
        kept: The study's folder of what is kept.
        set_id: The set.
        sha256: Its hash, as its decision has it.
        into: Folder to make; the database of a check may read no other than ours.

    Returns:
        Whether it was there.
    """
    place = kept / _FOLDER / set_id
    try:
        note = json.loads((place / _NOTE).read_text(encoding="utf-8"))
        if note["key"] != _key(sha256) or sorted(note["files"]) != sorted(_names()):
            return False
        shutil.copytree(place, into, ignore=shutil.ignore_patterns(_NOTE))
        whole = all(sha256_of(into / name) == note["files"][name] for name in _names())
    except (OSError, ValueError, KeyError, TypeError):
        whole = False
    if not whole:
        remove(into)
    return whole


def keep_extracts(kept: Path, made: Path, in_force: Mapping[str, str]) -> None:
    """Keep the extracts that a check had to make, and forget those of sets not in force.

    They are a convenience: what can't be written is made again by the next check.

    Args:
        kept: The study's folder of what is kept.
        made: Folder of the extracts, by set; it may be missing.
        in_force: The hash of each set in force.
    """
    place = kept / _FOLDER
    try:
        for extract in sorted(made.iterdir()) if made.is_dir() else ():
            if extract.name in in_force and all((extract / name).is_file() for name in _names()):
                _keep(extract, place / extract.name, _key(in_force[extract.name]))
        for old in sorted(place.iterdir()) if place.is_dir() else ():
            if old.name not in in_force:
                remove(old)
    except OSError:
        return


def _keep(extract: Path, target: Path, key: str) -> None:
    remove(target)
    files = {name: extract / name for name in _names()}
    keep_all(files, target)
    note = {"key": key, "files": {name: sha256_of(path) for name, path in files.items()}}
    write_text(target / _NOTE, json.dumps(note, indent=2) + "\n")


def _names() -> list[str]:
    return [f"{part}.parquet" for part in PARTS]


def _key(sha256: str) -> str:
    return key_of("extract", sha256, code_sha256(), versions_of("duckdb"))
