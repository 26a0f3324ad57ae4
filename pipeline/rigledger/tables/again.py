"""Which cells deserve to be measured again, and why: read from the derived tables."""

from __future__ import annotations

from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.study.sheet_again import Again

if TYPE_CHECKING:
    import duckdb

_QUERY = (Path(__file__).parent / "sql" / "work" / "again.sql").read_text(encoding="utf-8")


def cells_to_measure_again(con: duckdb.DuckDBPyConnection, contributor: str) -> list[Again]:
    """List a contributor's cells with doubtful runs, and the changes a few runs would settle.

    Args:
        con: Connection that holds the derived tables ``cells`` and ``comparisons``.
        contributor: Whose cells; their rigs lose the contributor in front.

    Returns:
        One entry for each rig, workload and resolution, with all its reasons.
    """
    rows = con.execute(_QUERY, {"contributor": contributor}).fetchall()
    cut = len(contributor) + 1
    return [
        Again(rig[cut:], workload, resolution, "; ".join(row[3] for row in places))
        for (rig, workload, resolution), places in groupby(rows, key=lambda row: row[:3])
    ]
