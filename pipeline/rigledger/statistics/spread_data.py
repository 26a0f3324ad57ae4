"""Runs reduced to what the spread model needs: sorted, grouped by cell and session."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.comparison_errors import (
    ArrayShapeError,
    IndexOutOfRangeError,
    ValueNotPositiveError,
)
from rigledger.statistics.linear import sum_by
from rigledger.statistics.rounding import step_variance

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray, IntArray, RunArrays

SMALLEST_VARIANCE = 1e-12
"""Run-to-run variance below which nothing is believed: a spread of 0.0001 %."""


@dataclass(frozen=True)
class SortedRuns:
    """Runs in a canonical order, with ln(value); see `RunArrays` for the fields."""

    y: FloatArray
    cell: IntArray
    session: IntArray
    round: IntArray
    pass_index: IntArray
    floor: FloatArray


@dataclass(frozen=True)
class Groups:
    """One row per cell and session that occur together, ordered by cell, then session.

    Attributes:
        cell, session, round: labels.
        runs: number of runs.
        mean: mean of ln(value).
        squares: sum of squared deviations from that mean.
        of_run: position of each sorted run's group.
    """

    cell: IntArray
    session: IntArray
    round: IntArray
    runs: IntArray
    mean: FloatArray
    squares: FloatArray
    of_run: IntArray


@dataclass(frozen=True)
class SpreadData:
    """Per cell: what its own runs say about its run-to-run spread. Shapes (cells,).

    Attributes:
        runs: number of runs.
        sessions: number of sessions.
        df: residual degrees of freedom: runs minus sessions.
        squares: residual sum of squares within sessions, on the ln scale.
        floor: variance of the rounding error of one run.
        mean: mean over sessions of the session means of ln(value); 0 where there is no run.
    """

    runs: IntArray
    sessions: IntArray
    df: FloatArray
    squares: FloatArray
    floor: FloatArray
    mean: FloatArray


def sort_runs(runs: RunArrays, cells: int) -> SortedRuns:
    """Check the runs and bring them into an order that doesn't depend on how they came.

    Raises:
        ArrayShapeError: an array has another length than `runs.value`.
        ValueNotPositiveError: a value or step has no meaning on the ln scale.
        IndexOutOfRangeError: a run names a cell that isn't there.
    """
    _check(runs, cells)
    order = np.lexsort((runs.value, runs.pass_index, runs.session, runs.cell))
    value = np.asarray(runs.value, dtype=np.float64)[order]
    step = np.asarray(runs.reported_step, dtype=np.float64)[order]
    return SortedRuns(
        y=np.log(value),
        cell=np.asarray(runs.cell, dtype=np.int64)[order],
        session=np.asarray(runs.session, dtype=np.int64)[order],
        round=np.asarray(runs.round, dtype=np.int64)[order],
        pass_index=np.asarray(runs.pass_index, dtype=np.int64)[order],
        floor=step_variance(step, value),
    )


def _check(runs: RunArrays, cells: int) -> None:
    length = np.shape(runs.value)
    for name in ("cell", "session", "round", "pass_index", "reported_step"):
        shape = np.shape(getattr(runs, name))
        if shape != length or len(shape) != 1:
            raise ArrayShapeError(f"runs.{name}", -1, f"shape {shape}, but value has {length}")
    bad = np.flatnonzero(~(np.isfinite(runs.value) & (runs.value > 0)))
    if bad.size:
        raise ValueNotPositiveError("runs.value", int(bad[0]), f"{runs.value[bad[0]]!r}")
    bad = np.flatnonzero(~(np.isfinite(runs.reported_step) & (runs.reported_step >= 0)))
    if bad.size:
        found = f"{runs.reported_step[bad[0]]!r} is no step (0 says that there is none)"
        raise ValueNotPositiveError("runs.reported_step", int(bad[0]), found)
    bad = np.flatnonzero((runs.cell < 0) | (runs.cell >= cells))
    if bad.size:
        found = f"cell {runs.cell[bad[0]]}, but there are {cells} cells"
        raise IndexOutOfRangeError("runs.cell", int(bad[0]), found)


def group_by_session(runs: SortedRuns) -> Groups:
    """Group sorted runs by cell and session."""
    new = np.ones(len(runs.y), dtype=bool)
    new[1:] = (runs.cell[1:] != runs.cell[:-1]) | (runs.session[1:] != runs.session[:-1])
    of_run = np.cumsum(new) - 1
    first = np.flatnonzero(new)
    count = np.bincount(of_run, minlength=len(first))
    mean = sum_by(of_run, runs.y, len(first)) / np.maximum(count, 1)
    squares = sum_by(of_run, (runs.y - mean[of_run]) ** 2, len(first))
    return Groups(
        cell=runs.cell[first],
        session=runs.session[first],
        round=runs.round[first],
        runs=count.astype(np.int64),
        mean=mean,
        squares=squares,
        of_run=of_run.astype(np.int64),
    )


def summarise(runs: SortedRuns, groups: Groups, cells: int) -> SpreadData:
    """Add the groups up to cells."""
    count = np.bincount(runs.cell, minlength=cells)
    sessions = np.bincount(groups.cell, minlength=cells)
    floor = sum_by(runs.cell, runs.floor, cells) / np.maximum(count, 1)
    mean = sum_by(groups.cell, groups.mean, cells) / np.maximum(sessions, 1)
    return SpreadData(
        runs=count.astype(np.int64),
        sessions=sessions.astype(np.int64),
        df=(count - sessions).astype(np.float64),
        squares=sum_by(groups.cell, groups.squares, cells),
        floor=np.maximum(floor, SMALLEST_VARIANCE),
        mean=mean,
    )
