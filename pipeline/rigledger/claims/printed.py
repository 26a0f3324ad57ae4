"""Values as a review prints them: ``12 %``, ``up to 12 % slower``, ``about 1.5 times``, ``twice``.

A printed figure stands for all values that round to it: half a unit of its last digit to either
side, so ``12 %`` for 11.5 to 12.5 and ``12.0 %`` for 11.95 to 12.05 (the usual reading of a rounded
figure: ISO 80000-1:2009, annex B.3, from memory). ``About`` doubles that, and a number of times is
read with one decimal at least, so that ``twice`` stands for 1.95 to 2.05 (common practice, no
source for either). No rule of rounding has an error rate of its own: the rates are those of
`rigledger.claims.judge`, which adds the data's intervals to the printed range.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Kind = Literal["percent", "times", "value"]

_SENSES = {
    "faster": "gain", "quicker": "gain", "better": "gain", "gain": "gain",
    "slower": "loss", "worse": "loss", "loss": "loss",
    "higher": "+", "more": "+", "increase": "+",
    "lower": "-", "less": "-", "fewer": "-", "decrease": "-",
}  # fmt: skip
_NO_UNIT = "|".join(("as", *_SENSES))
_UNIT = rf"(?:%|per cent|percent|×|(?!(?:{_NO_UNIT})\b)[a-z]+)"
_ABOUT = r"(?:about|around|roughly|some|almost|nearly|approximately|~|≈)"
_MOST = r"(?:up to|as much as|at most|no more than)"
_NUMBER = r"(?:[+\-−]?\s*\d+(?:[.,]\d+)?|twice|double|half|two|three|four|five)"
_SHAPE = re.compile(
    rf"(?P<most>{_MOST}\s+)?(?P<about>{_ABOUT}\s*)?(?P<number>{_NUMBER})"
    rf"\s*(?P<unit>{_UNIT})?(?:\s+as\s+(?P<as>[a-z]+))?(?:\s+(?P<word>[a-z]+))?"
)
_WORDS = {"twice": 2.0, "double": 2.0, "half": 0.5, "two": 2.0, "three": 3.0, "four": 4.0,
          "five": 5.0}  # fmt: skip
_PERCENT = ("%", "per cent", "percent")
_TIMES = ("times", "x", "×")


class PrintedError(ValueError):
    """A printed value can't be understood."""


@dataclass(frozen=True, slots=True)
class Printed:
    """A value as printed, understood.

    Attributes:
        text: As printed.
        kind: A change in per cent, a number of times, or a value in a metric's unit.
        size: The figure, without sign: per cent beyond no change for percent and times.
        half_unit: How far from it a value may lie and still be printed so; in the same unit.
        sense: gain, loss, + or -; None where it is unsigned.
        unit: Unit of a value, ``fps``.
        up_to: Whether it says "up to".
        plain: The text without sign and without words for better or worse.
    """

    text: str
    kind: Kind
    size: float
    half_unit: float
    sense: str | None = None
    unit: str | None = None
    up_to: bool = False
    plain: str = ""


def understood(text: str) -> Printed:
    """Understand a value as printed.

    Args:
        text: ``12 %``, ``-3.5 %``, ``up to 12 % slower``, ``1.5 times``, ``twice``, ``142 fps``.

    Raises:
        PrintedError: It is none of these.
    """
    found = _SHAPE.fullmatch(" ".join(text.strip().lower().split()))
    if found is None:
        raise PrintedError("is no value as a review prints it")
    number, digits, sign = _number(found["number"])
    sense = _sense(found, sign)
    kind, unit = _kind(found)
    half = 0.5 * 10.0**-digits
    if kind == "times":
        number, half, sense = _as_change(number, max(digits, 1), sense)
    if found["about"]:
        half *= 2
    return Printed(
        text, kind, number, half, sense, unit, up_to=bool(found["most"]), plain=_plain(found)
    )


def _plain(found: re.Match[str]) -> str:
    digits = found["number"].lstrip("+-− ")
    parts = (found["most"], found["about"], digits, found["unit"])
    return " ".join(part.strip() for part in parts if part)


def _number(text: str) -> tuple[float, int, str | None]:
    """Give size, decimals and sign."""
    if text in _WORDS:
        return _WORDS[text], 1, None
    sign = {"+": "+", "-": "-", "−": "-"}.get(text[0])
    digits = text.lstrip("+-− ")
    if re.fullmatch(r"\d+,\d{3}", digits):
        raise PrintedError("the comma may divide thousands or be a decimal sign")
    whole, _, decimals = digits.replace(",", ".").partition(".")
    return float(f"{whole}.{decimals or 0}"), len(decimals), sign


def _sense(found: re.Match[str], sign: str | None) -> str | None:
    words = [word for word in (found["as"], found["word"]) if word is not None]
    senses = [_SENSES.get(word) for word in words if word not in ("fast", "high", "much", "many")]
    if None in senses:
        raise PrintedError(f"the word {words[-1]!r} says neither gain nor loss")
    told = [one for one in (*senses, sign) if one is not None]
    if len(told) > 1:
        raise PrintedError("has two signs")
    return told[0] if told else None


def _kind(found: re.Match[str]) -> tuple[Kind, str | None]:
    unit = found["unit"]
    if unit in _PERCENT:
        return "percent", None
    if unit in _TIMES or (unit is None and found["number"] in ("twice", "double", "half")):
        return "times", None
    if unit is None:
        raise PrintedError("has no unit")
    return "value", unit


def _as_change(times: float, digits: int, sense: str | None) -> tuple[float, float, str]:
    """Give a number of times as per cent beyond no change."""
    if sense in {"loss", "-"}:
        raise PrintedError("a number of times slower can be read in two ways; state per cent")
    if times <= 0:
        raise PrintedError("a number of times is above zero")
    change = 100.0 * (times - 1.0)
    return abs(change), 50.0 * 10.0**-digits, "+" if change >= 0 else "-"
