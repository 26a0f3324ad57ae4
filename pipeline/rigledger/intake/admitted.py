"""Runs, sessions and rigs of the admitted sets, for rules that look for repeats and swaps."""

from __future__ import annotations

import shutil
import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, text
from rigledger.intake.blocks import readings
from rigledger.intake.database import locked_database
from rigledger.intake.gate import inspect
from rigledger.intake.log import FindingLog
from rigledger.intake.readset import read_set
from rigledger.intake.typed import make_typed

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

    from rigledger.contract.model import Contract
    from rigledger.intake.readset import TextSet

_PARTS = {
    "runs": "SELECT s.contributor || '.' || s.set AS set_id, r.* EXCLUDE (_row)"
    " FROM handed.runs r, handed.set s",
    "sessions": "SELECT s.contributor || '.' || s.set AS set_id, s.contributor, r.rig,"
    " r.session, r.boot, r.started_on FROM handed.sessions r, handed.set s",
    "rigs": "SELECT s.contributor || '.' || s.set AS set_id, s.contributor, r.* EXCLUDE (_row)"
    " FROM handed.rigs r, handed.set s",
}  # fmt: skip


_OF_CAPTURES = {
    "folders": "set_id VARCHAR, folder VARCHAR, study VARCHAR",
    "captures": "set_id VARCHAR, capture VARCHAR",
}


@dataclass(frozen=True, slots=True)
class OpenedSet:
    """An admitted set as it was read: its folder, its text, and the database with ``handed.*``."""

    folder: Path
    held: TextSet
    con: duckdb.DuckDBPyConnection


@contextmanager
def opened_set(folder: Path, place: Path, log: FindingLog) -> Iterator[OpenedSet | None]:
    """Read an admitted set into a database of its own.

    Args:
        folder: The set.
        place: Folder of ours that the database may read and write.
        log: Takes what is found, which was judged when the set was admitted.

    Yields:
        The set; None where it may not be opened.
    """
    with tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as name:
        seen = inspect(folder, Path(name), count_unpacked=False)
        if seen.folder is None:
            yield None
            return
        with locked_database(seen.folder, place, seen.files) as con:
            held = read_set(con, seen.folder, seen.files, log, place)
            make_typed(con, held, log.contract)
            yield OpenedSet(seen.folder, held, con)


def make_admitted(
    con: duckdb.DuckDBPyConnection,
    study: Path | None,
    scratch: Path,
    contract: Contract,
    shared: Path | None = None,
) -> bool:
    """Create ``admitted.runs``, ``admitted.sessions`` and ``admitted.rigs`` from the sets in force.

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

    Returns:
        Whether there is any such set; where there is none, no table is made but those two.
    """
    for name, columns in _OF_CAPTURES.items():
        con.execute(f"CREATE TABLE admitted.{name} ({columns})")
    own = con.execute(
        "SELECT contributor || '.' || supersedes, contributor || '.' || set FROM handed.set"
    ).fetchone()
    folders = [] if study is None else _in_force(study, own or ())
    if not folders:
        return False
    places = [(folder.name, folder.as_posix(), folder.parents[1].as_posix()) for folder in folders]
    con.executemany("INSERT INTO admitted.folders VALUES (?, ?, ?)", places)
    for number, folder in enumerate(folders):
        into = scratch / f"admitted-{number}"
        if shared is None:
            _copy_out(folder, into, contract)
        else:
            _copy_out_once(folder, shared / folder.name, into, contract)
    for name in _PARTS:
        made = (
            scratch / f"admitted-{number}" / f"{name}.parquet" for number in range(len(folders))
        )
        parts = ", ".join(text(str(part)) for part in made)
        # The types of the set at hand are no pattern: its columns may have words of their own.
        read = f"read_parquet([{parts}], union_by_name=true)"
        con.execute(f"CREATE TABLE admitted.{name} AS SELECT * FROM {read}")
    _make_blocks(con, contract)
    return True


def _make_blocks(con: duckdb.DuckDBPyConnection, contract: Contract) -> None:
    """Create ``admitted.blocks`` with the same readings as ``handed.blocks``."""
    names = ", ".join(identifier(name) for name in contract.metrics)
    con.execute(
        "CREATE VIEW admitted.blocks AS SELECT set_id, workload,"
        f" bit_xor(hash(pass, {readings(contract, contract.metrics)})) AS readings"
        f" FROM admitted.runs WHERE role = 'measured' AND coalesce({names}) IS NOT NULL"
        " GROUP BY set_id, rig, session, workload, title_build, resolution, level"
        " HAVING count(*) >= 3"
    )


def _in_force(study: Path, left_out: tuple[str | None, ...]) -> list[Path]:
    from rigledger.study.decisions import read_decisions
    from rigledger.study.layout import open_study

    held = open_study(study)
    if not held.decisions.is_file():
        return []
    names = [item.set_id for item in read_decisions(held.decisions).in_force]
    return [held.set_folder(name) for name in sorted(names) if name not in left_out]


def _copy_out_once(folder: Path, kept: Path, into: Path, contract: Contract) -> None:
    if not kept.is_dir():
        _copy_out(folder, kept, contract)
    # The database that checks a set may read no folder but that set's and its own.
    shutil.copytree(kept, into)


def _copy_out(folder: Path, into: Path, contract: Contract) -> None:
    """Read an admitted set by itself; leave its runs, sessions and rigs as files for the check."""
    into.mkdir()
    with opened_set(folder, into, FindingLog(contract)) as opened:
        if opened is None:
            return
        for part, query in _PARTS.items():
            made = str(into / f"{part}.parquet").replace("'", "''")
            opened.con.execute(f"COPY ({query}) TO '{made}' (FORMAT parquet)")
