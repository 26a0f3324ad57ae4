"""What each character of a draft is: prose that people read, or code, link, comment, markup.

Blocks of Markdown are found by a parser of its standard (CommonMark, markdown-it-py); tags,
attributes, spans of code and links by patterns of the same standard. Whatever is in doubt stays
prose: a number there is pointed out rather than missed.
"""

from __future__ import annotations

import re
from html import unescape
from typing import TYPE_CHECKING
from unicodedata import category

if TYPE_CHECKING:
    from collections.abc import Iterable

PROSE, CODE, LINK, COMMENT, MARKUP = "prose", "code", "link", "comment", "markup"
DIGIT_ENTITY = "digit entity"
LIST_MARKER, HEADING_NUMBER, NOTE_MARK = "list marker", "heading number", "note mark"

_ATTRIBUTE = r"""\s+[A-Za-z_:][\w.:-]*(?:\s*=\s*(?:"[^"]*"|'[^']*'|[^\s"'=<>`]+))?"""
_TAG = re.compile(rf"</?[A-Za-z][A-Za-z0-9-]*(?:{_ATTRIBUTE})*\s*/?>|<![A-Za-z][^>]*>|<\?.*?\?>")
_READ = re.compile(
    r"""\s(?:alt|title|aria-label|aria-description|label|placeholder|summary)"""
    r"""\s*=\s*(?:"([^"]*)"|'([^']*)')""",
    re.IGNORECASE,
)
_META = re.compile(
    r"""<meta\b(?=[^>]*(?:description|title))[^>]*?\scontent\s*=\s*(?:"([^"]*)"|'([^']*)')""",
    re.IGNORECASE,
)
_COMMENT = re.compile(r"<!--.*?-->", re.DOTALL)
_RAW = re.compile(
    r"<(script|style|code|pre|kbd|samp|svg|math|template)\b[^>]*>.*?</\1\s*>",
    re.DOTALL | re.IGNORECASE,
)
ENTITIES = re.compile(r"(?:&(?:#[0-9]{1,7}|#[xX][0-9a-fA-F]{1,6}|[A-Za-z][A-Za-z0-9]{1,31});)+")
_SPAN = re.compile(r"(?<!`)(`+)(?!`)((?:(?!\n[ \t]*\n|\r\n[ \t]*\r\n).)+?)(?<!`)\1(?!`)", re.DOTALL)
_DESTINATION = re.compile(r"\]\(\s*(<[^<>\n]*>|[^\s()]*(?:\([^\s()]*\)[^\s()]*)*)")
_DEFINED = re.compile(r"^ {0,3}\[[^\]\n]+\]:[ \t]*\S+", re.MULTILINE)
_ADDRESS = re.compile(
    r"(?:https?|ftp|mailto|doi):[^\s<>\"')\]]+|<[A-Za-z][A-Za-z0-9+.-]+:[^\s<>]*>"
)
_NOTE = re.compile(r"\[\^?\d+\](?!\()")
_UNIT_NEXT = r"(?!\s*(?:%|per\s?cent|percent|fps|frames?|times|ms|x\b|×))"
_NUMBERED = rf"(?:\d+(?:\.\d+)*\.|\d+(?:\.\d+)+)(?=\s){_UNIT_NEXT}"
_HEADING = re.compile(
    rf"(?:^ {{0,3}}#{{1,6}}[ \t]+|<h[1-6]\b[^>]*>\s*)({_NUMBERED})", re.MULTILINE | re.IGNORECASE
)
_LINE = re.compile(r"\r\n?|\n")


def line_starts(text: str) -> list[int]:
    """Give where each line starts, whatever ends the lines."""
    return [0, *(found.end() for found in _LINE.finditer(text))]


def kinds_of(text: str, *, html: bool) -> list[str]:
    """Say of each character what it is.

    Args:
        text: The draft, its placeholders blanked out.
        html: Whether it is HTML; else it is Markdown.

    Returns:
        A kind per character; ``prose`` for what people read.
    """
    kinds = [PROSE] * len(text)
    if not html:
        _mark_blocks(text, kinds)
        _mark(text, kinds, _SPAN, CODE)
    _mark(text, kinds, _COMMENT, COMMENT)
    _mark(text, kinds, _RAW, CODE)
    _mark_headings(text, kinds)
    _mark(text, kinds, _ADDRESS, LINK)
    _mark_tags(text, kinds)
    if not html:
        for pattern in (_DESTINATION, _DEFINED):
            _mark(text, kinds, pattern, LINK)
        _mark(text, kinds, _NOTE, NOTE_MARK)
    _mark_entities(text, kinds)
    return kinds


def is_numeric(character: str) -> bool:
    """Say whether a character is a digit or another number, as a fraction."""
    return category(character).startswith("N")


def mark(kinds: list[str], start: int, end: int, kind: str) -> None:
    """Give a stretch of characters a kind where it is still prose."""
    for place in range(start, end):
        if kinds[place] == PROSE:
            kinds[place] = kind


def _mark(text: str, kinds: list[str], pattern: re.Pattern[str], kind: str) -> None:
    for found in pattern.finditer(text):
        if kinds[found.start()] == PROSE:
            mark(kinds, found.start(), found.end(), kind)


def _mark_blocks(text: str, kinds: list[str]) -> None:
    from markdown_it import MarkdownIt

    starts = [*line_starts(text), len(text)]
    for token in MarkdownIt("commonmark").parse(text):
        if token.map is None:
            continue
        first = starts[token.map[0]]
        if token.type in {"fence", "code_block"}:
            mark(kinds, first, starts[min(token.map[1], len(starts) - 1)], CODE)
        elif token.type == "list_item_open" and token.info:
            at = text.find(f"{token.info}{token.markup}", first)
            mark(kinds, at, at + len(token.info), LIST_MARKER)


def _mark_headings(text: str, kinds: list[str]) -> None:
    for found in _HEADING.finditer(text):
        mark(kinds, *found.span(1), HEADING_NUMBER)


def _mark_tags(text: str, kinds: list[str]) -> None:
    for found in _TAG.finditer(text):
        if kinds[found.start()] != PROSE:
            continue
        read = set(_read_parts(found[0], found.start()))
        for place in range(*found.span()):
            if place not in read and kinds[place] == PROSE:
                kinds[place] = MARKUP


def _read_parts(tag: str, at: int) -> Iterable[int]:
    """Give the places of a tag's attributes that are read out or shown to people."""
    for pattern in (_READ, _META):
        for found in pattern.finditer(tag):
            group = 1 if found[1] is not None else 2
            yield from range(at + found.start(group), at + found.end(group))


def _mark_entities(text: str, kinds: list[str]) -> None:
    """Mark entities; those that stand for a digit apart: such a number is read as one."""
    for found in ENTITIES.finditer(text):
        said = unescape(found[0])
        if said != found[0]:
            digit = any(is_numeric(held) for held in said)
            mark(kinds, *found.span(), DIGIT_ENTITY if digit else MARKUP)
