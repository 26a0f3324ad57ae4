"""Scales: from values to pixels and back, with round ticks."""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Scale:
    """A linear or logarithmic scale.

    Attributes:
        low: Value at ``start``.
        high: Value at ``end``.
        start: Pixel of ``low``.
        end: Pixel of ``high``.
        log: Whether equal ratios take equal room.
    """

    low: float
    high: float
    start: float
    end: float
    log: bool = False

    def at(self, value: float) -> float:
        """Give the pixel of a value, to a tenth; values beyond the ends stop there."""
        low, high, value = (self._plain(held) for held in (self.low, self.high, value))
        share = min(1.0, max(0.0, (value - low) / (high - low)))
        return round(self.start + share * (self.end - self.start), 1)

    def holds(self, value: float) -> bool:
        """Say whether a value lies on the scale."""
        return self.low <= value <= self.high

    def ticks(self, most: int) -> list[float]:
        """Give round values on the scale, at most about ``most`` of them."""
        if self.log:
            decades = range(math.floor(math.log10(self.low)), math.ceil(math.log10(self.high)) + 1)
            candidates = [float(f"{step}e{power}") for power in decades for step in (1, 3)]
            return [value for value in candidates if self.holds(value)]
        step = round_step((self.high - self.low) / most)
        first, last = math.ceil(self.low / step - 1e-9), math.floor(self.high / step + 1e-9)
        return [step * number for number in range(first, last + 1)]

    def _plain(self, value: float) -> float:
        return math.log(max(value, self.low)) if self.log else value


def round_step(rough: float) -> float:
    """Give the least of 1, 2, 5 times a power of ten that is not below ``rough``."""
    power = 10.0 ** math.floor(math.log10(rough))
    return next(step * power for step in (1, 2, 5, 10) if step * power >= rough * (1 - 1e-9))


def change_scale(
    changes: list[float],
    ends: list[float],
    delta: float,
    start: float,
    end: float,
    *,
    beyond: float = 0.3,
) -> Scale:
    """Make the scale of a change: all changes and ±2 δ on it, long intervals may run off.

    Args:
        changes: The changes, in per cent.
        ends: Ends of their intervals.
        delta: The material change, in per cent.
        start: First pixel.
        end: Last pixel.
        beyond: How far intervals may widen the scale, as a share of the range of the changes.
    """
    low = min([-2 * delta, *changes])
    high = max([2 * delta, *changes])
    room = beyond * (high - low)
    step = round_step((high - low) / 12)
    low = max(low - room, min([low, *ends]))
    high = min(high + room, max([high, *ends]))
    return Scale(step * math.floor(low / step), step * math.ceil(high / step), start, end)
