"""Which rigs form a full cross of platforms and cards."""

from __future__ import annotations

from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.errors import OutOfRangeError, ShapeError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

_MOST_SHORT_SIDE = 16


def largest_full_cross(measured: ArrayLike) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Returns the platforms and cards of the largest full cross among the rigs measured.

    Largest means most rigs; of equals the one nearer to a square, then the first in order. A
    cross has at least two platforms and two cards.

    Args:
        measured: whether a rig of platform i with card j was measured, shape (platforms,
            cards). The shorter side may have up to 16 entries: all its subsets are tried.

    Returns:
        Positions of the platforms and of the cards; two empty tuples where no rigs cross.

    Raises:
        ShapeError: not two dimensions.
        OutOfRangeError: both sides are longer than 16.
    """
    mask = np.asarray(measured, dtype=bool)
    if mask.ndim != 2:
        raise ShapeError("measured", mask.shape, "platforms by cards")
    if min(mask.shape) > _MOST_SHORT_SIDE:
        raise OutOfRangeError("shorter side", min(mask.shape), f"at most {_MOST_SHORT_SIDE}")
    if mask.shape[0] <= mask.shape[1]:
        return _best(_crosses(mask))
    return _best((platforms, cards) for cards, platforms in _crosses(mask.T))


def _crosses(mask: NDArray[np.bool_]) -> Iterable[tuple[tuple[int, ...], tuple[int, ...]]]:
    for size in range(2, mask.shape[0] + 1):
        for rows in combinations(range(mask.shape[0]), size):
            columns = np.flatnonzero(mask[list(rows)].all(axis=0))
            if columns.size >= 2:
                yield rows, tuple(int(column) for column in columns)


def _best(
    crosses: Iterable[tuple[tuple[int, ...], tuple[int, ...]]],
) -> tuple[tuple[int, ...], tuple[int, ...]]:
    ranked = sorted(
        crosses,
        key=lambda cross: (-len(cross[0]) * len(cross[1]), -min(map(len, cross)), cross),
    )
    return ranked[0] if ranked else ((), ())
