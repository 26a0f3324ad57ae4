"""The sentence around a place of a draft, so that a change can be shown where it is read."""

from __future__ import annotations

import re

_BREAK = re.compile(
    r"[.!?…][\"'”’)\]*_]*(?=\s)"  # the end of a sentence
    r"|\r?\n[ \t]*(?=\r?\n)"  # a blank line
    r"|\n(?=[ \t]*(?:[-*+>#|]|\d{1,9}[.)])\s?)"  # a list item, heading, quotation or table row
    r"|</?(?:p|li|td|th|tr|h[1-6]|div|figcaption|caption|blockquote|br|title)\b[^>]*>",
    re.IGNORECASE,
)
_LEAD = re.compile(r"\s*(?:(?:[-*+>]|#{1,6}|\d{1,9}[.)])\s+)*")


def sentence_span(text: str, start: int, end: int) -> tuple[int, int]:
    """Give where the sentence around a stretch of text starts and ends.

    Args:
        text: The draft, its placeholders blanked out so that no point in them ends a sentence.
        start: Where the stretch starts.
        end: Where it ends.
    """
    first, last = 0, len(text)
    for found in _BREAK.finditer(text):
        if found.end() <= start:
            first = found.end()
        elif found.start() >= end:
            last = found.end() if found[0][0] in ".!?…" else found.start()
            break
    lead = _LEAD.match(text, first, start)
    return (lead.end() if lead else first), last


def starts_sentence(text: str, start: int) -> bool:
    """Say whether a sentence starts at a place: nothing but marks stands before it."""
    first, _ = sentence_span(text, start, start + 1)
    return not text[first:start].strip(" \t\r\n*_\"'“‘(")
