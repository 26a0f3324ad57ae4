"""Errors of the statistics: each class has a stable code."""

from __future__ import annotations

from typing import ClassVar

from rigledger.errors import RigledgerError


class StatisticsError(RigledgerError, ValueError):
    """Base of the errors raised by single statistics."""

    code: ClassVar[str] = "statistics"


class NotFiniteError(StatisticsError):
    """A value is NaN or infinite."""

    code = "not_finite"

    def __init__(self, name: str, index: int) -> None:
        super().__init__(f"{name}[{index}] is not a finite number")
        self.name, self.index = name, index

    def __reduce__(self) -> tuple[object, ...]:
        return (type(self), (self.name, self.index))


class TooFewValuesError(StatisticsError):
    """There are fewer values than the statistic needs."""

    code = "too_few_values"

    def __init__(self, name: str, given: int, needed: int) -> None:
        super().__init__(f"{name}: {given} given, {needed} needed")
        self.name, self.given, self.needed = name, given, needed

    def __reduce__(self) -> tuple[object, ...]:
        return (type(self), (self.name, self.given, self.needed))


class OutOfRangeError(StatisticsError):
    """A value lies outside the range in which the formula holds."""

    code = "out_of_range"

    def __init__(self, name: str, value: float, allowed: str) -> None:
        super().__init__(f"{name} is {value}, it must be {allowed}")
        self.name, self.number, self.allowed = name, value, allowed

    def __reduce__(self) -> tuple[object, ...]:
        return (type(self), (self.name, self.number, self.allowed))


class ShapeError(StatisticsError):
    """Arrays that belong together have different shapes."""

    code = "shape"

    def __init__(self, name: str, shape: tuple[int, ...], expected: str) -> None:
        super().__init__(f"{name} has the shape {shape}, expected {expected}")
        self.name, self.shape, self.expected = name, shape, expected

    def __reduce__(self) -> tuple[object, ...]:
        return (type(self), (self.name, self.shape, self.expected))
