"""A picture before it is rendered: its canvas, its words and the numbers under it."""

from __future__ import annotations

import re
import textwrap
from bisect import bisect_left
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.charts.canvas import Canvas
from rigledger.charts.look import HEIGHT, LONG_TITLE, MARGIN, SMALL, SUBTITLE, TITLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.charts.numbers import Column

# Widths of a line in characters, measured with the bundled font over ordinary English.
_TITLE_CHARS, _LONG_TITLE_CHARS = 80, 104
_SUBTITLE_CHARS, _FOOT_CHARS = 150, 190


@dataclass(frozen=True)
class Picture:
    """A picture and what goes with it.

    Attributes:
        name: Name of its files, without an ending.
        title: What it shows, in a sentence.
        alt: What a person who can't see it needs: the title, the counts, where the numbers are.
        canvas: What is drawn.
        columns: Columns of the numbers under it.
        rows: The numbers, as the tables hold them.
    """

    name: str
    title: str
    alt: str
    canvas: Canvas
    columns: tuple[Column, ...]
    rows: Sequence[dict[str, Any]]


@dataclass(frozen=True)
class Sheet:
    """An empty picture with its words, and the room left for drawing."""

    canvas: Canvas
    top: float
    bottom: float


def new_sheet(title: str, subtitles: Sequence[str], foot: str) -> Sheet:
    """Set the words of a picture on a canvas.

    Args:
        title: What it shows; two lines at most, a longer one is cut with an ellipsis.
        subtitles: What is drawn, and the counts; each wraps.
        foot: How to read it, and where it comes from.
    """
    canvas = Canvas()
    y = 62.0
    size, chars = (TITLE, _TITLE_CHARS) if _fits(title) else (LONG_TITLE, _LONG_TITLE_CHARS)
    for line in _wrapped(title, chars, 2):
        canvas.text(MARGIN, y, line, size=size, bold=True)
        y += 1.22 * size
    for subtitle in subtitles:
        for line in _wrapped(subtitle, _SUBTITLE_CHARS, 2):
            canvas.text(MARGIN, y, line, size=SUBTITLE, colour="soft")
            y += 36
    lines = _wrapped(foot, _FOOT_CHARS, 3)
    bottom = HEIGHT - 36.0 - 28 * (len(lines) - 1)
    for number, line in enumerate(lines):
        canvas.text(MARGIN, bottom + 28 * number, line, size=SMALL, colour="soft")
    return Sheet(canvas, y - 6, bottom - 30)


def _fits(title: str) -> bool:
    return len(_lines(title, _TITLE_CHARS, 3)) <= 2


def _wrapped(text: str, chars: int, most: int) -> list[str]:
    """Wrap to as few lines as needed, of about equal length."""
    lines = _lines(text, chars, most)
    if len(lines) == 1 or lines[-1].endswith("…"):
        return lines

    def fits(width: int) -> bool:
        narrower = _lines(text, width, most)
        return len(narrower) == len(lines) and not narrower[-1].endswith("…")

    # A wider picture never takes more lines.
    narrowest = bisect_left(range(11, chars + 1), True, key=fits)
    return _lines(text, 11 + narrowest, most)


def _lines(text: str, chars: int, most: int) -> list[str]:
    """Wrap; a number keeps its unit and the word before it, "1 of 9" stays together."""
    text = re.sub(r"(?<=\d) of (?=\d)", "\u00a0of\u00a0", text)
    text = re.sub(r"(?<![,;:]) (?=%|\d+\b)", "\u00a0", text)
    return textwrap.wrap(text, chars, max_lines=most, placeholder=" …", break_on_hyphens=False)


def elided(text: str, chars: int) -> str:
    """Cut a label that is too long for its place; the numbers under the picture have all of it."""
    return text if len(text) <= chars else f"{text[: chars - 1].rstrip()}…"
