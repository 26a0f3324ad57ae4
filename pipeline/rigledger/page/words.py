"""Numbers and verdicts in words, the same on page and in sentences."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rigledger.contract import load_contract

if TYPE_CHECKING:
    from collections.abc import Mapping

_MINUS = "\u2212"
_HYPHEN = re.compile(r"(?<![^ (])-(?=\d)")
_SIZE = {
    "material": "material",
    "immaterial": "within the material change",
    "unsettled": "size not settled",
}
_DIRECTION = {"gain": "gain", "loss": "loss", "not_shown": "no change shown"}


def signed_pct(value: float | None) -> str:
    """Write a change as ``+3.2 %`` with a true minus sign; a dash where there is none."""
    if value is None:
        return "–"
    text = f"{abs(value):.1f}"
    sign = "" if float(text) == 0 else "+" if value > 0 else _MINUS
    return f"{sign}{text} %"


def plain_number(value: float | None) -> str:
    """Write a value with four significant digits at most, never in powers of ten."""
    if value is None:
        return "–"
    digits = 0 if abs(value) >= 1000 else 1 if abs(value) >= 100 else 2
    return f"{value:.{digits}f}"


def verdict(direction: str | None, size: str | None, no_verdict: str | None) -> str:
    """Say in words what a comparison found."""
    if no_verdict is not None:
        terms = load_contract().vocabularies["no_verdict"].terms
        return f"no verdict: {terms.get(no_verdict, no_verdict)}"
    return f"{_DIRECTION[str(direction)]}, {_SIZE[str(size)]}"


def kind(direction: str | None, size: str | None, no_verdict: str | None) -> str:
    """Name the mark that stands for a verdict in the pictures.

    Returns:
        ``none`` (no verdict), ``within`` (the material change), ``gain`` or ``loss`` (material),
        ``gain_open`` or ``loss_open`` (size not settled), or ``open``.
    """
    if no_verdict is not None:
        return "none"
    if size == "immaterial":
        return "within"
    if direction not in {"gain", "loss"}:
        return "open"
    return str(direction) if size == "material" else f"{direction}_open"


def byte_size(number: int) -> str:
    """Write a file's size: bytes below 1,000, else kB or MB (powers of ten)."""
    if number < 1000:
        return f"{number} B"
    return f"{number / 1e3:.0f} kB" if number < 1e6 else f"{number / 1e6:.1f} MB"


def typeset(text: str) -> str:
    """Keep numbers and their per cent signs on one line, and write minus as minus."""
    return _HYPHEN.sub(_MINUS, text.replace(" %", "\u00a0%"))


def with_names(line: str, names: Mapping[str, str]) -> str:
    """Replace ids by names where they stand alone in a list, between commas or before a colon."""
    parts = (part.split(", ") for part in line.split(": "))
    return ": ".join(", ".join(names.get(one, one) for one in part) for part in parts)
