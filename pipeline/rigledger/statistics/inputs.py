"""What the statistics take in: runs, cells, pairs of cells and settings, as plain arrays.

One call covers one contributor and one metric. Everything is indexed by small integers that the
caller chooses; the numbers themselves carry no meaning beyond *same* and *different*.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    IntArray = NDArray[np.int64]
    BoolArray = NDArray[np.bool_]

BetterWhen = Literal["higher", "lower", "neither"]
LimitKind = Literal["constant", "decreasing"]


@dataclass(frozen=True)
class RunArrays:
    """One row per measured or sentinel run, in any order (the order never changes a result).

    Attributes:
        value: the metric's value, in its own unit; finite and above zero. Shape (runs,).
        cell: position of the run's cell in `CellArrays`. Shape (runs,).
        session: any integer that is the same for runs of one session. Shape (runs,).
        round: the session's round. Rounds tie sessions together where a level needs a reboot:
            a round is a block there. Shape (runs,).
        pass_index: the pass within the session; two cells of a pair that have a run in the same
            session and pass form a block. Give -1 for every run whose pass is *not* a block (where
            positions or times do not show that one pass ended before the next began).
        reported_step: the smallest step in which the value was reported, in the metric's unit; 0
            where it was computed from frame times. Shape (runs,).
    """

    value: FloatArray
    cell: IntArray
    session: IntArray
    round: IntArray
    pass_index: IntArray
    reported_step: FloatArray


@dataclass(frozen=True)
class CellArrays:
    """One row per cell.

    Attributes:
        factors: label arrays, by the factor's name (for instance workload, rig, resolution,
            level); each of shape (cells,). They explain why cells differ in spread. Any subset may
            be given; a factor with a single label, or with as many labels as cells, drops out.
        sentinel: whether the cell is a sentinel's: the setting cannot act on it, so it shows what
            a new session alone does. Give the sentinel runs of all levels *one* cell per rig, stack
            and sentinel workload. Shape (cells,).
    """

    factors: Mapping[str, IntArray]
    sentinel: BoolArray


@dataclass(frozen=True)
class PairArrays:
    """One row per comparison: the change goes from `from_cell` to `to_cell`. Shapes (pairs,)."""

    from_cell: IntArray
    to_cell: IntArray


@dataclass(frozen=True)
class SpreadPrior:
    """What is believed of a cell's spread before it is measured: ln σ is normal.

    Used as it stands where a set is too small to fit a spread model of its own.

    Attributes:
        median_pct: median of the run-to-run spread, in per cent.
        ln_sd: standard deviation of ln σ; 1.2 says that nine cells in ten lie within a factor of
            seven of the median.
    """

    median_pct: float = 1.0
    ln_sd: float = 1.2


@dataclass(frozen=True)
class Settings:
    """What the study declared beforehand.

    Attributes:
        better_when: direction of the metric; with `neither` no verdict is given.
        material_change_pct: δ, in per cent; `material` means beyond ±δ.
        rounds_declared: how many rounds of measuring the study allows, this one included.
        limits: shape of the group-sequential limits over those rounds: `constant` (Pocock 1977) or
            `decreasing` (O'Brien and Fleming 1979).
        session_spread_pct: session-to-session standard deviation of a cell in per cent, if the
            study declares one; it is used where it can't be measured.
        spread_prior: the study's declared prior of the run-to-run spread.
    """

    better_when: BetterWhen = "higher"
    material_change_pct: float = 3.0
    rounds_declared: int = 1
    limits: LimitKind = "constant"
    session_spread_pct: float | None = None
    spread_prior: SpreadPrior = field(default_factory=SpreadPrior)
