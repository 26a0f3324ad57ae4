"""Checks of what is handed to a statistic: finite, in range, of matching shape."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

import numpy as np

from rigledger.statistics.errors import (
    NotFiniteError,
    OutOfRangeError,
    ShapeError,
    StatisticsError,
    TooFewValuesError,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    FloatArray = NDArray[np.float64]


class NoVarianceError(StatisticsError):
    """All values are equal where the figure needs a spread above zero."""

    code: ClassVar[str] = "no_variance"

    def __init__(self, name: str) -> None:
        super().__init__(f"{name}: all values are equal, a spread above zero is needed")
        self.name = name

    def __reduce__(self) -> tuple[object, ...]:
        return (type(self), (self.name,))


def finite(values: ArrayLike, name: str, *, at_least: int = 0) -> FloatArray:
    """Returns the values as a float array after checking that all are finite.

    Args:
        values: any shape, any unit.
        name: what an error calls them.
        at_least: the fewest values accepted.

    Raises:
        NotFiniteError: a value is NaN or infinite.
        TooFewValuesError: fewer values than ``at_least``.
    """
    array = np.asarray(values, dtype=np.float64)
    bad = np.flatnonzero(~np.isfinite(array))
    if bad.size:
        raise NotFiniteError(name, int(bad[0]))
    if array.size < at_least:
        raise TooFewValuesError(name, array.size, at_least)
    return array


def positive(values: ArrayLike, name: str, *, or_infinite: bool = False) -> FloatArray:
    """Returns the values as a float array after checking that all are above zero.

    Args:
        values: any shape, any unit.
        name: what an error calls them.
        or_infinite: whether infinity is a legal value (degrees of freedom).

    Raises:
        NotFiniteError: a value is NaN (or infinite, unless that is allowed).
        OutOfRangeError: a value is zero or less.
    """
    array = np.asarray(values, dtype=np.float64)
    finite(np.where(np.isposinf(array), 1.0, array) if or_infinite else array, name)
    low = array[array <= 0]
    if low.size:
        raise OutOfRangeError(name, float(low[0]), "above 0")
    return array


def one_dimensional(values: FloatArray, name: str) -> FloatArray:
    """Returns the values if they have one dimension.

    Raises:
        ShapeError: they have none or several.
    """
    if values.ndim != 1:
        raise ShapeError(name, values.shape, "one dimension")
    return values


def same_shape(arrays: Sequence[NDArray[np.generic]], name: str) -> None:
    """Checks that arrays which belong together have one shape.

    Raises:
        ShapeError: one of them differs from the first.
    """
    for array in arrays[1:]:
        if array.shape != arrays[0].shape:
            raise ShapeError(name, array.shape, f"the shape {arrays[0].shape}")


def probability(value: float, name: str) -> float:
    """Returns a level or rate strictly between 0 and 1.

    Raises:
        OutOfRangeError: it is not.
    """
    if not 0.0 < value < 1.0:
        raise OutOfRangeError(name, value, "between 0 and 1")
    return float(value)
