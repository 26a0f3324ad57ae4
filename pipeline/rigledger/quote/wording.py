"""Figures as a review prints them.

Per cent with one decimal below 10 and none from there on, frame rates with one decimal below 100
and none from there on (common practice, no source); ``digits`` says otherwise. An interval has the
figure's decimals, more where it would otherwise seem to touch zero and doesn't.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rigledger.quote.figures import Figure
    from rigledger.quote.syntax import Manner

MINUS = "\u2212"
_WHOLE_FROM = {"change": 10.0, "share": 10.0, "value": 100.0, "count": 0.0}
_UP_TO = re.compile(r"\b(?:up to|as much as|at most|no more than)\s*$", re.IGNORECASE)
_PAIRS = {
    "faster-slower": ("faster", "slower"), "higher-lower": ("higher", "lower"),
    "gain-loss": ("gain", "loss"),
}  # fmt: skip
_PRINTED_NUMBER = re.compile(
    r"(?:(?P<sign>[+\-−])\s*)?(?:(?P<digits>\d+(?:[.,]\d+)?)|\b(?P<word>twice|double|half)\b)",
    re.IGNORECASE,
)
_SAID = {"twice": 2.0, "double": 2.0, "half": 0.5}


@dataclass(frozen=True, slots=True)
class Context:
    """What stands on either side of a placeholder.

    Attributes:
        before: The text before it, on its line and the one above.
        after: The text behind it.
        starts_sentence: Whether a sentence starts with it.
    """

    before: str = ""
    after: str = ""
    starts_sentence: bool = False


def worded(figure: Figure, manner: Manner, context: Context = Context()) -> str:
    """Write a figure.

    Args:
        figure: The figure.
        manner: How it is to be written.
        context: Its surroundings: a unit or "up to" that stands there is not written twice.
    """
    if figure.sentence is not None and (figure.value is None or "sentence" in manner.words):
        return figure.sentence
    printed = _printed(figure, manner)
    text = printed or _usual(figure, manner, context)
    if printed is None and (figure.up_to or "up-to" in manner.words):
        text = f"up to {text}"
    if _UP_TO.search(context.before):
        text = re.sub(r"^(?:up to|as much as|at most|no more than)\s+", "", text)
    return text[:1].upper() + text[1:] if context.starts_sentence else text


def decimals(figure: Figure, manner: Manner) -> int:
    """Give the decimals of a figure."""
    if manner.digits is not None:
        return manner.digits
    whole_from = _WHOLE_FROM[figure.kind]
    digits = 0 if round(abs(figure.value or 0.0), 1) >= whole_from else 1
    # A material change declared as 3 is printed as 3.
    return 0 if figure.kind == "share" and float(figure.value or 0).is_integer() else digits


def rounded(value: float, digits: int, *, signed: bool) -> str:
    """Write a number; one that rounds to zero has no sign."""
    text = f"{abs(value):.{digits}f}"
    if float(text) == 0 or (value > 0 and not signed):
        return text
    return f"{'+' if value > 0 else MINUS}{text}"


def _usual(figure: Figure, manner: Manner, context: Context) -> str:
    value = figure.value or 0.0
    digits = decimals(figure, manner)
    word = _word(figure, manner, digits)
    bare = bool(word) or figure.up_to or "size" in manner.words
    signed = figure.kind == "change" and not bare
    shown = rounded(abs(value) if bare else value, digits, signed=signed)
    text = shown + _unit(figure, manner, context)
    text += f" {word}" if word else ""
    return text + (
        _interval(figure, manner, digits, bare=bare) if _has_interval(figure, manner) else ""
    )


def _has_interval(figure: Figure, manner: Manner) -> bool:
    return "interval" in manner.words and figure.low is not None and figure.high is not None


def _word(figure: Figure, manner: Manner, digits: int) -> str:
    asked = [pair for name, pair in _PAIRS.items() if name in manner.words]
    value = figure.value or 0.0
    if not asked or figure.kind != "change" or float(f"{abs(value):.{digits}f}") == 0:
        return ""
    up = value > 0
    if asked[0] != _PAIRS["higher-lower"] and figure.better == "lower":
        up = not up
    return asked[0][0 if up else 1]


def _unit(figure: Figure, manner: Manner, context: Context) -> str:
    if not figure.unit or "bare" in manner.words or _stands_there(figure.unit, context.after):
        return ""
    return figure.unit if "tight" in manner.words and figure.unit == "%" else f" {figure.unit}"


def _stands_there(unit: str, after: str) -> bool:
    words = r"(?:%|per\s?cent|percent)" if unit == "%" else rf"{re.escape(unit)}\b"
    return bool(re.match(rf"(?:\s|&nbsp;|&#160;)*{words}", after, re.IGNORECASE))


def _interval(figure: Figure, manner: Manner, digits: int, *, bare: bool) -> str:
    low, high = float(figure.low or 0.0), float(figure.high or 0.0)
    one_side = low * high > 0
    while one_side and digits < 4 and _is_zero(min(abs(low), abs(high)), digits):
        digits += 1
    if bare and one_side:
        low, high = sorted((abs(low), abs(high)))
    signed = figure.kind == "change" and not (bare and one_side)
    ends = [rounded(end, digits, signed=signed) for end in (low, high)]
    return f" ({ends[0]} to {ends[1]}{_unit(figure, manner, Context())})"


def _is_zero(value: float, digits: int) -> bool:
    return float(f"{value:.{digits}f}") == 0


def _printed(figure: Figure, manner: Manner) -> str | None:
    """Write a claim's figure into the value as claims.toml prints it."""
    if figure.printed is None or manner.words & {"size", "signed", *_PAIRS} or figure.value is None:
        return None
    found = _PRINTED_NUMBER.search(figure.printed)
    if found is None or (figure.stands and not _has_interval(figure, manner)):
        return figure.printed
    number = _as_printed(figure, found, manner)
    text = figure.printed[: found.start()] + number + figure.printed[found.end() :]
    extra = decimals(figure, manner) if found["digits"] is None else _decimals(found["digits"])
    if _has_interval(figure, manner):
        text += _interval(figure, manner, extra, bare=not found["sign"])
    return text


def _decimals(digits: str) -> int:
    return len(digits.replace(",", ".").partition(".")[2])


def _as_printed(figure: Figure, found: re.Match[str], manner: Manner) -> str:
    value = figure.value or 0.0
    times = _is_times(figure, found)
    number = 1 + value / 100 if times else abs(value)
    if found["word"]:
        said = _SAID[found["word"].lower()]
        return found[0] if round(number, 1) == said else f"{number:.1f} times"
    digits = _decimals(found["digits"]) if manner.digits is None else manner.digits
    sign = (MINUS if value < 0 else "+") if found["sign"] and not times else ""
    return sign + f"{number:.{digits}f}"


def _is_times(figure: Figure, found: re.Match[str]) -> bool:
    rest = (figure.printed or "")[found.end() :].strip().lower()
    return figure.kind == "change" and (bool(found["word"]) or rest.startswith(("times", "x", "×")))
