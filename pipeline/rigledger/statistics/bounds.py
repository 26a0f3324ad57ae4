"""What a sample of re-tested cells says about the cells that were not re-tested."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np
from scipy import special, stats

from rigledger.statistics.checks import probability
from rigledger.statistics.errors import OutOfRangeError, TooFewValuesError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from rigledger.statistics.checks import FloatArray

    IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Stratum:
    """Cells of one kind, some of them drawn at random and re-tested.

    Attributes:
        cells: how many there are, N.
        tested: how many were drawn at random and re-tested, n.
        moved: how many of those were seen to move, m.
        detection: chance that a tested cell that moved is seen to have moved, above 0 to 1.
    """

    cells: int
    tested: int
    moved: int
    detection: float = 1.0

    def __post_init__(self) -> None:
        if not 0 <= self.tested <= self.cells:
            raise OutOfRangeError("tested", self.tested, f"0 to {self.cells}, the cells there are")
        if not 0 <= self.moved <= self.tested:
            raise OutOfRangeError("moved", self.moved, f"0 to {self.tested}, the cells tested")
        if not 0.0 < self.detection <= 1.0:
            raise OutOfRangeError("detection", self.detection, "above 0 and at most 1")


@dataclass(frozen=True)
class MovedBound:
    """An upper bound on moved cells, at one-sided confidence ``level``.

    Attributes:
        cells: how many there are.
        tested: how many were re-tested.
        moved: how many were seen to move.
        at_most: the most that may have moved, tested ones included.
        untested_at_most: the most, beyond those seen, that may have moved unseen.
        level: the confidence.
    """

    cells: int
    tested: int
    moved: int
    at_most: int
    untested_at_most: int
    level: float


def moved_bound(strata: Sequence[Stratum], *, level: float = 0.95) -> MovedBound:
    """Returns the exact upper bound on how many cells moved, over all strata together.

    The largest total for which seeing so few is still believable: P(seen <= m) > 1 - level,
    with seen a hypergeometric count, thinned by the chance of detection (Buonaccorsi JP
    (1987), Am Stat 41(3):215-218, for one stratum). With several strata the total is placed
    in the way that hides it best, so the bound holds wherever the moved cells are. False
    alarms among ``moved`` make the bound larger, never smaller.

    Args:
        strata: at least one.
        level: one-sided confidence.

    Raises:
        TooFewValuesError: no stratum.
        OutOfRangeError: ``level`` is not between 0 and 1.
    """
    if not strata:
        raise TooFewValuesError("strata", 0, 1)
    alpha = 1 - probability(level, "level")
    moved = sum(stratum.moved for stratum in strata)
    at_most = _largest_believable(strata, moved, alpha)
    cells, tested = sum(part.cells for part in strata), sum(part.tested for part in strata)
    return MovedBound(cells, tested, moved, at_most, at_most - moved, level)


def marked_interval(found: int, tested: int, cells: int, *, level: float = 0.95) -> tuple[int, int]:
    """Returns two-sided exact limits for the number of marked items in a finite population.

    Buonaccorsi JP (1987), Am Stat 41(3):215-218: from the smallest M with P(X >= m) above
    (1 - level) / 2 to the largest M with P(X <= m) above it.

    Args:
        found: marked items in the sample.
        tested: sample size.
        cells: population size.
        level: confidence.

    Raises:
        OutOfRangeError: the counts contradict each other, or ``level`` is out of range.
    """
    Stratum(cells, tested, found)
    tail = (1 - probability(level, "level")) / 2
    marked = np.arange(cells + 1)
    not_fewer = stats.hypergeom.sf(found - 1, cells, marked, tested)
    not_more = stats.hypergeom.cdf(found, cells, marked, tested)
    return int(marked[not_fewer > tail].min()), int(marked[not_more > tail].max())


def clopper_pearson(successes: int, trials: int, *, level: float = 0.95) -> tuple[float, float]:
    """Returns the exact two-sided interval of a binomial proportion.

    Clopper CJ, Pearson ES (1934), Biometrika 26(4):404-413, by way of the beta law.

    Args:
        successes: 0 to ``trials``.
        trials: at least 1.
        level: confidence; each tail has half of the rest.

    Raises:
        TooFewValuesError, OutOfRangeError: as they say.
    """
    if trials < 1:
        raise TooFewValuesError("trials", trials, 1)
    if not 0 <= successes <= trials:
        raise OutOfRangeError("successes", successes, f"0 to {trials}")
    tail = (1 - probability(level, "level")) / 2
    failures = trials - successes
    lower = float(stats.beta.ppf(tail, successes, failures + 1)) if successes else 0.0
    upper = float(stats.beta.isf(tail, successes + 1, failures)) if failures else 1.0
    return lower, upper


def no_event_upper(trials: int, *, level: float = 0.95) -> float:
    """Returns the exact upper limit of a rate when none of ``trials`` showed the event.

    Near 3 / trials at 95 %, the rule of three: Hanley JA, Lippman-Hand A (1983), JAMA
    249(13):1743-1745.

    Raises:
        TooFewValuesError, OutOfRangeError: as they say.
    """
    if trials < 1:
        raise TooFewValuesError("trials", trials, 1)
    return float(-np.expm1(np.log1p(-probability(level, "level")) / trials))


def trials_without_event(rate: float, *, level: float = 0.95) -> int:
    """Returns the fewest trials that, all without the event, show its rate to be below ``rate``.

    Raises:
        OutOfRangeError: ``rate`` or ``level`` is not between 0 and 1.
    """
    alpha = 1 - probability(level, "level")
    return int(np.ceil(np.log(alpha) / np.log1p(-probability(rate, "rate"))))


@lru_cache(maxsize=100_000)
def _thinned_law(cells: int, tested: int, detection: float, most: int, moved: int) -> FloatArray:
    # scipy's hypergeometric law takes milliseconds a point among thousands of cells.
    caught = np.arange(max(0, tested + moved - cells), min(tested, moved) + 1)
    ways = _ln_choose(moved, caught) + _ln_choose(cells - moved, tested - caught)
    drawn = np.exp(ways - _ln_choose(cells, np.array(tested)))
    seen = stats.binom.pmf(np.arange(most + 1)[:, None], caught, detection)
    return np.asarray(seen @ drawn, dtype=np.float64)


def _ln_choose(n: int, k: NDArray[np.int64]) -> FloatArray:
    ln_ways = special.gammaln(n + 1) - special.gammaln(k + 1) - special.gammaln(n - k + 1)
    return np.asarray(ln_ways, dtype=np.float64)


# A chance that equals alpha but for rounding is no longer believable: the bound holds all the same.
_ROUNDING = 1e-9


def _largest_believable(strata: Sequence[Stratum], most: int, alpha: float) -> int:
    """Adds one moved cell at a time where it hides best, until hiding is no longer believable."""
    placed, total = np.zeros(len(strata), dtype=np.int64), 0
    cells = np.array([part.cells for part in strata])
    seen = _Seen(tuple(strata), most)
    while total < cells.sum():
        placed, chance = _hide_one_more(seen, placed, cells)
        if chance <= alpha * (1 + _ROUNDING):
            return total
        total += 1
    return total


def _hide_one_more(seen: _Seen, placed: IntArray, cells: IntArray) -> tuple[IntArray, float]:
    unlike = _unlike(seen, placed)
    options = placed + np.eye(len(placed), dtype=np.int64)[unlike[placed[unlike] < cells[unlike]]]
    chances = seen.chances(options)
    best = int(np.argmax(chances))
    return _exchange(seen, options[best], float(chances[best]), cells)


def _exchange(
    seen: _Seen, placed: IntArray, chance: float, cells: IntArray
) -> tuple[IntArray, float]:
    """Moves single cells from stratum to stratum while that hides them better."""
    unit = np.eye(len(placed), dtype=np.int64)
    while True:
        unlike = _unlike(seen, placed)
        to, away = (grid.reshape(-1) for grid in np.meshgrid(unlike, unlike, indexing="ij"))
        free = (to != away) & (placed[away] > 0) & (placed[to] < cells[to])
        if not np.any(free):
            return placed, chance
        options = placed + unit[to[free]] - unit[away[free]]
        chances = seen.chances(options)
        best = int(np.argmax(chances))
        if chances[best] <= chance * (1 + 1e-12):
            return placed, chance
        placed, chance = options[best], float(chances[best])


def _unlike(seen: _Seen, placed: IntArray) -> IntArray:
    """Two strata of each kind: those with the same law and as many moved cells are alike."""
    kinds: dict[tuple[float, ...], list[int]] = {}
    for index, (part, count) in enumerate(zip(seen.strata, placed.tolist(), strict=True)):
        kinds.setdefault((part.cells, part.tested, part.detection, count), []).append(index)
    return np.array(sorted(index for alike in kinds.values() for index in alike[:2]))


@dataclass(frozen=True)
class _Seen:
    """The chance of seeing at most ``most`` in all strata together, for ways to place the moved."""

    strata: tuple[Stratum, ...]
    most: int

    def chances(self, options: IntArray) -> FloatArray:
        """Returns P(seen <= most), one per row of ``options``, shape (options, strata)."""
        if self.most == 0:
            none = [self._laws(s, options[:, s])[:, 0] for s in range(len(self.strata))]
            return np.asarray(np.prod(none, axis=0), dtype=np.float64)
        apart = np.any(options != options[0], axis=0)
        same = np.eye(1, self.most + 1)[0]
        for s in np.flatnonzero(~apart).tolist():
            same = np.convolve(same, self._law(s, int(options[0, s])))[: self.most + 1]
        together = np.tile(same, (len(options), 1))
        for s in np.flatnonzero(apart).tolist():
            together = _convolve(together, self._laws(s, options[:, s]))
        return np.asarray(together.sum(axis=1), dtype=np.float64)

    def _laws(self, stratum: int, moved: IntArray) -> FloatArray:
        fewest = int(moved.min())
        laws = [self._law(stratum, count) for count in range(fewest, int(moved.max()) + 1)]
        return np.array(laws)[moved - fewest]

    def _law(self, stratum: int, moved: int) -> FloatArray:
        part = self.strata[stratum]
        return _thinned_law(part.cells, part.tested, part.detection, self.most, moved)


def _convolve(one: FloatArray, other: FloatArray) -> FloatArray:
    """Convolves each row of one with the same row of the other, cut to their length."""
    size, total = one.shape[1], np.zeros_like(one)
    for shift in np.flatnonzero(other.any(axis=0)):
        total[:, shift:] += one[:, : size - shift] * other[:, shift, None]
    return total
