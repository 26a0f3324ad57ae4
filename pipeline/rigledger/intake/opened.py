"""Opens an admitted set: read into a database of its own."""

from __future__ import annotations

import tempfile
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.intake.database import are_small, locked_database
from rigledger.intake.gate import inspect
from rigledger.intake.readset import read_set
from rigledger.intake.typed import make_typed

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet


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
        small = are_small(seen.folder, seen.files)
        with locked_database(seen.folder, place, small=small) as con:
            held = read_set(con, seen.folder, seen.files, log, place)
            make_typed(con, held, log.contract)
            yield OpenedSet(seen.folder, held, con)
