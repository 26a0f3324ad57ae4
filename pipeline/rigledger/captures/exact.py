"""Decimal text to whole nanoseconds without any binary fraction in between."""

from __future__ import annotations

import re
from decimal import ROUND_HALF_UP, Decimal

_NUMBER = re.compile(r"[+-]?(?:[0-9]+\.?[0-9]*|\.[0-9]+)(?:[eE][+-]?0*[0-9]{1,3})?", re.ASCII)
_NOT_FINITE = re.compile(r"[+-]?(?:nan|inf|infinity)", re.ASCII | re.IGNORECASE)

# A signed 64-bit integer holds 292 years of nanoseconds; loggers count from 1970 at the earliest.
LARGEST_NS = 4 * 10**18


def is_number(text: str) -> bool:
    """Tell whether the text spells a finite decimal number (point as decimal mark)."""
    return _NUMBER.fullmatch(text) is not None


def is_not_finite(text: str) -> bool:
    """Tell whether the text spells NaN or infinity."""
    return _NOT_FINITE.fullmatch(text) is not None


def nanoseconds(text: str, digits: int) -> int | None:
    """Convert decimal text to whole nanoseconds, halves away from zero.

    Args:
        text: A number as accepted by `is_number`.
        digits: Power of ten from the text's unit to nanoseconds.

    Returns:
        The exact value rounded once, or None where it lies beyond what a capture can hold.
    """
    number = Decimal(text)
    if number and number.adjusted() + digits > 18:
        return None
    if number and number.adjusted() + digits < -1:
        return 0
    whole = int(number.scaleb(digits).to_integral_value(rounding=ROUND_HALF_UP))
    return whole if abs(whole) <= LARGEST_NS else None
