"""Whether a rig changed while it was measured: first runs slower, or a drift over the session.

One test per rig and session, pooled over all its cells. Within a cell the order of the runs
carries no information if the rig stood still, so the reference is the set of all orders within
cells (a permutation test: Pitman EJG (1937), J R Stat Soc Suppl 4(1):119-130). It needs no law
of the spread, and whole-number fps or capped titles do not upset it. Cells count by their own
spread: a quiet cell tells more than a noisy one.

Read the warm-up first: a slow first pass also looks like a drift about half the time. What all
cells of a pass share by chance looks like either (ci/bench/doubt.py prints how often): one session
cannot tell a cold rig from one bad pass.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import permutations
from math import factorial
from typing import TYPE_CHECKING, Literal

import numpy as np

from rigledger.statistics.checks import finite, one_dimensional, positive, probability, same_shape
from rigledger.statistics.errors import StatisticsError
from rigledger.statistics.laws import normal_upper

if TYPE_CHECKING:
    from typing import ClassVar

    from numpy.typing import ArrayLike, NDArray

    from rigledger.statistics.checks import FloatArray

    IntArray = NDArray[np.int64]

Sides = Literal["both", "lower", "higher"]

_SEED = 19_370_104
# Up to so many runs a cell all orders are listed; above, each draw shuffles anew.
_MOST_LISTED = 6


class NoRepeatedCellError(StatisticsError):
    """No cell has two runs in the session, so their order says nothing."""

    code: ClassVar[str] = "no_repeated_cell"


@dataclass(frozen=True)
class SessionTrend:
    """How the values of a session follow a covariate within its cells.

    Attributes:
        cells: number of cells with two runs or more whose covariate differs.
        runs: number of their runs.
        change_pct: change per unit of the covariate, in percent (the first runs against the
            rest; or the whole session from start to end).
        low_pct: lower end of its approximate interval (normal, with the permutation variance,
            which contains the trend: too wide rather than too narrow).
        high_pct: upper end.
        p: permutation p value, never below 1 / (draws + 1).
        flag: p at most alpha.
    """

    cells: int
    runs: int
    change_pct: float
    low_pct: float
    high_pct: float
    p: float
    flag: bool


def warm_up(
    values: ArrayLike,
    cell: ArrayLike,
    order: ArrayLike,
    *,
    spread: ArrayLike = 1.0,
    higher_is_better: bool = True,
    alpha: float = 0.01,
    draws: int = 4999,
) -> SessionTrend:
    """Returns whether the first run of each cell is slower than the cell's other runs.

    Args:
        values: ln value of each run of one rig and session, shape (runs,).
        cell: any integer per cell, shape (runs,).
        order: anything that grows in the order in which runs were made, shape (runs,).
        spread: moderated spread of the run's cell on the ln scale, shape (runs,) or one
            number; it weights cells and must not depend on the order of the runs.
        higher_is_better: direction of the metric; *slower* is the worse side.
        alpha: rate of false alarms per session.
        draws: permutations drawn; the seed is fixed.

    Raises:
        NoRepeatedCellError: no cell has two runs.
        ShapeError, NotFiniteError, OutOfRangeError: as they say.
    """
    labels = np.asarray(cell, dtype=np.int64)
    position = one_dimensional(finite(order, "order"), "order")
    same_shape([labels, position], "order")
    first = np.zeros(labels.size)
    for label in np.unique(labels):
        members = np.flatnonzero(labels == label)
        first[members[position[members].argmin()]] = 1.0
    sides: Sides = "lower" if higher_is_better else "higher"
    return within_cells(values, labels, first, spread=spread, sides=sides, alpha=alpha, draws=draws)


def drift(
    values: ArrayLike,
    cell: ArrayLike,
    order: ArrayLike,
    *,
    spread: ArrayLike = 1.0,
    alpha: float = 0.01,
    draws: int = 4999,
) -> SessionTrend:
    """Returns whether values drift over a session, from its first run to its last (heat).

    Args:
        values: ln value of each run of one rig and session, shape (runs,).
        cell: any integer per cell, shape (runs,).
        order: position or time of each run in the session, shape (runs,).
        spread: as for `warm_up`.
        alpha: rate of false alarms per session.
        draws: permutations drawn; the seed is fixed.

    Raises:
        NoRepeatedCellError: no cell has two runs at different places in the order.
        ShapeError, NotFiniteError, OutOfRangeError: as they say.
    """
    position = one_dimensional(finite(order, "order", at_least=1), "order")
    span = float(np.ptp(position))
    share = (position - position.min()) / (span or 1.0)
    return within_cells(values, cell, share, spread=spread, alpha=alpha, draws=draws)


def within_cells(
    values: ArrayLike,
    cell: ArrayLike,
    covariate: ArrayLike,
    *,
    spread: ArrayLike = 1.0,
    sides: Sides = "both",
    alpha: float = 0.01,
    draws: int = 4999,
) -> SessionTrend:
    """Returns the common slope of values on a covariate within cells, and its permutation test.

    Args:
        values: ln value of each run, shape (runs,).
        cell: any integer per cell, shape (runs,).
        covariate: shape (runs,).
        spread: as for `warm_up`.
        sides: whether a slope on both sides, or only below or above zero, is looked for.
        alpha: rate of false alarms.
        draws: permutations drawn; the seed is fixed.

    Raises:
        NoRepeatedCellError: the covariate varies within no cell.
        ShapeError, NotFiniteError, OutOfRangeError: as they say.
    """
    probability(alpha, "alpha")
    centred = _centred(values, cell, covariate, spread)
    if not centred.ys:
        raise NoRepeatedCellError("cell: no cell has two runs between which the order could tell")
    observed = sum(float(a @ b) for a, b in centred.pairs)
    error = sum(float(a @ a) * float(b @ b) / (b.size - 1) for a, b in centred.pairs)
    p = _p_value(observed, _permuted(centred.xs, centred.ys, draws), sides)
    half = float(normal_upper(alpha / 2)) * error**0.5
    return SessionTrend(
        cells=len(centred.ys),
        runs=sum(y.size for y in centred.ys),
        change_pct=_percent(observed / centred.weight),
        low_pct=_percent((observed - half) / centred.weight),
        high_pct=_percent((observed + half) / centred.weight),
        p=p,
        flag=p <= alpha,
    )


@dataclass(frozen=True)
class _Centred:
    """Values and covariate of each informative cell about the cell's own means.

    Attributes:
        ys: values.
        xs: covariate, divided by the cell's variance.
        weight: sum over the cells of squared deviations of the covariate, weighted alike.
    """

    ys: list[FloatArray]
    xs: list[FloatArray]
    weight: float

    @property
    def pairs(self) -> list[tuple[FloatArray, FloatArray]]:
        """Covariate and values cell by cell."""
        return list(zip(self.xs, self.ys, strict=True))


def _centred(
    values: ArrayLike, cell: ArrayLike, covariate: ArrayLike, spread: ArrayLike
) -> _Centred:
    y = one_dimensional(finite(values, "values"), "values")
    x = finite(covariate, "covariate")
    labels = np.asarray(cell, dtype=np.int64)
    same_shape([y, x, labels], "cell and covariate")
    sd = np.broadcast_to(positive(spread, "spread"), y.shape)
    groups = _informative(labels, x, y)
    xs = [(x[m] - x[m].mean()) / float(np.mean(sd[m] ** 2)) for m in groups]
    weight = sum(float(a @ x[m]) for a, m in zip(xs, groups, strict=True))
    return _Centred([y[m] - y[m].mean() for m in groups], xs, weight)


def _informative(labels: IntArray, x: FloatArray, y: FloatArray) -> list[IntArray]:
    """Rows of each cell in an order of their own, so that the rows' order changes nothing."""
    order = np.lexsort((y, x, labels))
    cells = np.split(order, np.flatnonzero(np.diff(labels[order])) + 1)
    return [members for members in cells if members.size and np.ptp(x[members]) > 0]


def _permuted(xs: list[FloatArray], ys: list[FloatArray], draws: int) -> FloatArray:
    """The statistic for orders drawn within each cell, shape (draws,)."""
    stream = np.random.default_rng(_SEED)
    total = np.zeros(draws)
    for x, y in zip(xs, ys, strict=True):
        if y.size <= _MOST_LISTED:
            listed = y[np.array(list(permutations(range(y.size))))] @ x
            total += listed[stream.integers(factorial(y.size), size=draws)]
        else:
            total += stream.permuted(np.tile(y, (draws, 1)), axis=1) @ x
    return total


def _p_value(observed: float, permuted: FloatArray, sides: Sides) -> float:
    # Sums of the same numbers in another order differ in the last bits; they are ties.
    slack = 1e-9 * max(abs(observed), float(np.abs(permuted).max()))
    as_extreme = {
        "both": np.abs(permuted) >= abs(observed) - slack,
        "lower": permuted <= observed + slack,
        "higher": permuted >= observed - slack,
    }[sides]
    return (1 + int(as_extreme.sum())) / (permuted.size + 1)


def _percent(log_change: float) -> float:
    return 100.0 * float(np.expm1(log_change))
