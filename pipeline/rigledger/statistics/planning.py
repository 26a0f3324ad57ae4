"""How much more measuring settles a comparison, and what a planned sheet can show."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.outputs import NOT_REACHABLE

if TYPE_CHECKING:
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray

MOST = 99
"""More runs or sessions than this aren't worth planning."""


@dataclass(frozen=True)
class StillNeeded:
    """Further runs and sessions per level; `NOT_REACHABLE` if more than `MOST`."""

    runs: IntArray
    sessions: IntArray


def still_needed(
    change: FloatArray,
    *,
    limits: tuple[float, float],
    half_widths: tuple[FloatArray, FloatArray],
    counts: tuple[FloatArray, FloatArray],
    by_sessions: BoolArray,
    settled: BoolArray,
) -> StillNeeded:
    """What would settle the size, were the change seen so far the true one.

    A half-width shrinks with the square root of the number of runs (in the same session), or of
    sessions where those limit it. The gain of knowing the spread better is left out, so the answer
    errs on the safe side.

    Args:
        change: of ln. Shape (pairs,).
        limits: ln(1 - δ), ln(1 + δ).
        half_widths: of the interval that must lie inside for `immaterial`, and of the one that
            must lie outside for `material`.
        counts: runs per level and sessions per level so far.
        by_sessions: whether a session component enters.
        settled: whether nothing is needed.
    """
    low, high = limits
    room_inside = np.minimum(high - change, change - low)
    room_outside = np.maximum(change - high, low - change)
    inside = room_inside > 0
    half = np.where(inside, half_widths[0], half_widths[1])
    room = np.maximum(np.where(inside, room_inside, room_outside), 1e-9)
    factor = (half / room) ** 2
    runs, sessions = counts
    more_sessions = np.where(by_sessions, np.ceil(sessions * (factor - 1.0) - 1e-9), 0.0)
    per_session = np.ceil(runs / np.maximum(sessions, 1.0))
    more_runs = np.where(
        by_sessions, more_sessions * per_session, np.ceil(runs * (factor - 1.0) - 1e-9)
    )
    more_runs = np.where(settled, 0.0, np.maximum(more_runs, 1.0))
    more_sessions = np.where(settled, 0.0, np.maximum(more_sessions, by_sessions))
    return StillNeeded(_whole(more_runs), _whole(more_sessions))


def _whole(number: FloatArray) -> IntArray:
    return np.where(number > MOST, NOT_REACHABLE, np.minimum(number, MOST)).astype(np.int64)
