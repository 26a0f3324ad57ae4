"""Runs split at a day: what was measured before it, and whether it repeats after it.

A control is a re-test on the same stack, days apart. Nothing changed, so it shows how often a
re-test says that something moved when nothing did.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from rigledger.audit.rows import SQL_FOLDER, rows
from rigledger.statistics.inputs import CellArrays, PairArrays
from rigledger.statistics.outputs import ASSUMED
from rigledger.statistics.stack_shift import AskedShifts, stack_shifts
from rigledger.tables.analysis import cell_arrays, run_arrays, settings_of
from rigledger.tables.build import FILLERS
from rigledger.tables.workshop import workshop

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator

    from rigledger.audit.frame import Study
    from rigledger.statistics.inputs import RunArrays
    from rigledger.tables.workshop import Workshop

_FAR = "9999-12-31"
_NO_PAIRS = PairArrays(np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))


def dated_runs(shop: Workshop, contributor: str, metric: str, since: dt.date) -> pl.DataFrame:
    """Give a contributor's runs with the column ``later``: on or after a day."""
    text = (SQL_FOLDER / "dated_runs.sql").read_text(encoding="utf-8")
    values = {"contributor": contributor, "metric": metric, "since": since}
    frame: pl.DataFrame = shop.con.sql(text, params=values).pl()
    return frame


def labels_of(shop: Workshop, contributor: str, metric: str) -> CellArrays:
    """Give a contributor's cells."""
    frame = shop.frame("select * from work.cell_labels order by contributor, metric, cell")
    own = (pl.col("contributor") == contributor) & (pl.col("metric") == metric)
    return cell_arrays(frame.filter(own))


def control_shifts(study: Study, metric: str, since: dt.date) -> list[dict[str, Any]]:
    """Hold each cell's runs from a day on against its runs before, on the same stack and build.

    Args:
        study: A connection that holds the source tables.
        metric: The metric.
        since: The day.

    Returns:
        Rows like those of ``stack_shift``, without q, for cells measured before and after.
    """
    with workshop(study.con, study.design, study.contract, FILLERS) as shop:
        shop.need("measured_cells", "run_labels", "cell_labels", "counted")
        cells = rows(study.con, "frame", {"metric": metric, "since": _FAR})
        return [
            row
            for name in sorted({cell["contributor"] for cell in cells})
            for row in _of_contributor(shop, name, metric, since, cells)
        ]


def _of_contributor(
    shop: Workshop, contributor: str, metric: str, since: dt.date, cells: list[dict[str, Any]]
) -> Iterator[dict[str, Any]]:
    frame = dated_runs(shop, contributor, metric, since)
    labels = labels_of(shop, contributor, metric)
    count = len(labels.sentinel)
    runs = _apart(frame, count)
    seen = np.bincount(runs.cell, minlength=2 * count)
    own = [
        cell for cell in cells
        if cell["contributor"] == contributor
        and min(seen[cell["place"]], seen[cell["place"] + count]) > 1
    ]  # fmt: skip
    if not own:
        return
    places = np.array([cell["place"] for cell in own], dtype=np.int64)
    asked = AskedShifts(PairArrays(places, places + count), _NO_PAIRS, _NO_PAIRS)
    found = stack_shifts(runs, _twice(labels), asked, settings_of(shop, metric)).cells
    for n, cell in enumerate(own):
        told = found.session_basis[n] != ASSUMED
        yield {
            **{name: cell[name] for name in ("rig", "workload", "resolution", "level")},
            "contrast": "none", "from_stack": cell["stack"], "to_stack": cell["stack"],
            "changed": "", "shift_pct": float(found.shift_pct[n]),
            "low_95_pct": float(found.low95[n]), "high_95_pct": float(found.high95[n]),
            "p": float(found.p[n]) if told else None, "confounded_by": None,
            "no_verdict": None if told else "no_session_spread",
        }  # fmt: skip


def _apart(frame: pl.DataFrame, count: int) -> RunArrays:
    """Make the later runs of a cell another cell."""
    return run_arrays(frame.with_columns(pl.col("cell") + count * pl.col("later").cast(pl.Int64)))


def _twice(labels: CellArrays) -> CellArrays:
    factors = {name: np.concatenate((held, held)) for name, held in labels.factors.items()}
    return CellArrays(factors, np.concatenate((labels.sentinel, labels.sentinel)))
