"""A boot is one event: how far the cells of a session move together.

Cells seen in the same m sessions are not independent evidence about sessions. If a boot moves them
all at once, a mean over them is no better known than one of them. Both consequences are drawn here:
how much each unit's evidence counts, and which share of a session's shift its cells have in common.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.linear import sum_by

if TYPE_CHECKING:
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray
    from rigledger.statistics.session_component import Units

_PSEUDO_EVENTS = 1.0


@dataclass(frozen=True)
class SharedSessions:
    """Units that were seen in the same sessions, and how their shifts agree. Shapes (sets,).

    Attributes:
        of_unit: the set of each unit. Shape (units,).
        size: units of the set that repeat.
        cross: sum of products of the shifts of different units, each in units of its own sd.
        squares: sum of the squares.
        reliability: mean over the set's units of the share of a shift's sd that is the session's
            own and not the runs'.
    """

    of_unit: IntArray
    size: IntArray
    cross: FloatArray
    squares: FloatArray
    reliability: FloatArray

    @property
    def several(self) -> BoolArray:
        """Sets with two units or more: only they tell what is common."""
        return np.asarray(self.size > 1)


def shared_sessions(units: Units, told: BoolArray, law: FloatArray) -> SharedSessions:
    """Hold the shifts of units seen in the same sessions against each other.

    Args:
        units: what repeats.
        told: units with two sessions or more that entered the law.
        law: ω² of each unit. Shape (units,).
    """
    used = units.used & told[:, None]
    count = np.maximum(used.sum(axis=1), 1)
    mean = (units.value * used).sum(axis=1) / count
    total = np.where(used, units.variance, 1.0) + law[:, None]
    shift = np.where(used, (units.value - mean[:, None]) / np.sqrt(total), 0.0)
    labels, group = np.unique(units.together, return_inverse=True)
    group = group.reshape(-1)
    size = np.bincount(group[told], minlength=len(labels))
    sums = np.zeros((len(labels), shift.shape[1]))
    np.add.at(sums, group, shift)
    squares = sum_by(group, (shift**2).sum(axis=1), len(labels))
    own = np.sqrt((law[:, None] / total * used).sum(axis=1) / count)
    return SharedSessions(
        of_unit=group,
        size=size,
        cross=(sums**2).sum(axis=1) - squares,
        squares=squares,
        reliability=sum_by(group, own, len(labels)) / np.maximum(size, 1),
    )


def own_evidence(shared: SharedSessions) -> FloatArray:
    """How much of a unit's evidence is its own.

    Units seen in the same m sessions, whose shifts correlate with r, say as much about a variance
    as m / (1 + (m - 1) r²) independent ones. Shape (units,).
    """
    several, fewer = shared.several, np.maximum(shared.size - 1, 0)
    most = float((shared.squares * fewer)[several].sum())
    r = min(max(float(shared.cross[several].sum()) / most, 0.0), 1.0) if most > 0 else 0.0
    evidence: FloatArray = 1.0 / (1.0 + fewer * r**2)
    return evidence[shared.of_unit]


def common_share(shared: SharedSessions) -> float:
    """Which share of a session's shift its cells have in common: 0 none, 1 all of it.

    The correlation of the shifts, freed from the runs' own error, over all sets of sessions in
    which several units were seen. One more event is added in which everything moved together:
    where few events (or none) tell, a boot is taken to move all titles at once, which claims less
    rather than more.
    """
    several, size = shared.several, np.maximum(shared.size, 2)
    seen = (shared.cross / (size * (size - 1)))[several]
    could = (shared.squares / size * shared.reliability**2)[several]
    ratio = (float(seen.sum()) + _PSEUDO_EVENTS) / (float(could.sum()) + _PSEUDO_EVENTS)
    return min(max(ratio, 0.0), 1.0)
