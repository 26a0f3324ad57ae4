"""Text from strangers: made visible, and values turned into the text they were."""

from __future__ import annotations

import datetime as dt
import unicodedata

_INVISIBLE = {"Cc", "Cf", "Co", "Cn", "Cs", "Zl", "Zp"}
_LONGEST = 200


def printable(text: str) -> str:
    r"""Write characters that don't show, or that turn text around, as ``\u`` escapes."""
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        char if unicodedata.category(char) not in _INVISIBLE else f"\\u{ord(char):04x}"
        for char in text
    )


def excerpt(text: str | None, longest: int = _LONGEST) -> str | None:
    """Give a value as findings quote it: visible, and cut where it is very long."""
    if text is None:
        return None
    shown = printable(text[: longest + 1])
    return shown if len(text) <= longest else f"{shown[:longest]}… ({len(text)} characters)"


def plain_text(value: object) -> str | None:
    """Give a TOML value as text: numbers by their shortest form, dates by ISO 8601.

    Returns:
        The text; None for lists and tables, which are no values of a column.
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return value
    if isinstance(value, int | float):
        return repr(value)
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return None
