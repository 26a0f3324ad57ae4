"""Numbers in a draft that no placeholder made: which may stand by their kind, which are stray.

What may stand: a name of the study with a number in it (a title, a card, a resolution), a date, a
version, the number of a section, a figure or a note, a metric's own number (1% low), and what the
draft allows by ``{@ allow ... @}``; and what nobody reads as a figure, as code, links and comments.
Each of these is counted and can be listed, so no number passes unseen.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.quote.markup import DIGIT_ENTITY, ENTITIES, PROSE, is_numeric, mark

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

NAME, DATE, VERSION, REFERENCE, METRIC, ALLOWED = (
    "name", "date", "version", "reference", "metric", "allowed",
)  # fmt: skip

_MONTH = (
    r"(?-i:Jan(?:uary)?|Feb(?:ruary)?|Mar(?:ch)?|Apr(?:il)?|May|June?|July?|Aug(?:ust)?|"
    r"Sep(?:t(?:ember)?)?|Oct(?:ober)?|Nov(?:ember)?|Dec(?:ember)?)\.?"
)
_NOT_A_UNIT = (
    r"(?!\s*(?:%|per\s?cent|percent|fps|frames?|times|ms|seconds?|s\b|x\b|×|points?|runs?|titles?|"
    r"rigs?|watts?|W\b|GB|MB|Hz))"
)
_YEAR, _DAY = r"(?:19|20)\d\d", r"[0-3]?\d(?:st|nd|rd|th)?"
_TIME = r"T[\d:.]+(?:Z|[+-]\d\d:\d\d)?"
_VERSIONED = r"(?:version|driver|build|firmware|release|v)"
_REFERRED = r"(?:section|chapter|figure|fig\.|table|page|footnote|note|step|part)"
_KINDS = (
    (DATE, rf"\b{_YEAR}-(?:0[1-9]|1[0-2])-(?:[0-2]\d|3[01])(?:{_TIME})?\b"),
    (DATE, rf"\b(?:{_DAY}\s+(?:of\s+)?)?{_MONTH}\s+(?:[0-3]?\d,\s+)?{_YEAR}\b"),
    (DATE, rf"\b(?:{_DAY}\s+(?:of\s+)?{_MONTH}|{_MONTH}\s+[0-3]?\d)\b{_NOT_A_UNIT}"),
    (DATE, rf"(?:(?<=\bin )|(?<=\bsince )){_YEAR}\b{_NOT_A_UNIT}"),
    (DATE, rf"(?:©|\(c\)|&copy;)\s*{_YEAR}\b"),
    (VERSION, r"\bv?\d+(?:\.\d+){2,}[\w.+-]*"),
    (VERSION, rf"\b{_VERSIONED}\s?\d+(?:\.\d+)+\w*\b{_NOT_A_UNIT}"),
    (VERSION, rf"\b(?:version\s|v)\d+\b(?!\.\d){_NOT_A_UNIT}"),
    (REFERENCE, rf"\b{_REFERRED}\s\d+(?:\.\d+)*\b{_NOT_A_UNIT}"),
    (METRIC, r"\b\d+(?:\.\d+)?(?:\s|&nbsp;)?% lows?\b"),
    (METRIC, r"\b95(?:\s|&nbsp;)?%(?= (?:confidence )?intervals?\b)"),
)
_PATTERNS = tuple((kind, re.compile(pattern, re.IGNORECASE)) for kind, pattern in _KINDS)
_CARDINAL = (
    r"(?:one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty|"
    r"forty|fifty|sixty|seventy|eighty|ninety|hundred|thousand)"
)
_UNITS = r"(?:per\s?cent|percent|%|times|fps|frames|ms|milliseconds|seconds|percentage points)"
SPELLED = re.compile(
    rf"\b(?:{_CARDINAL}(?:[ -]{_CARDINAL})*\s+{_UNITS}|twice|thrice|doubl(?:e|es|ed|ing)|"
    rf"tripl(?:e|es|ed|ing)|halv(?:e|es|ed|ing)|half (?:as|the)|"
    rf"(?:a|one|two|three)[ -](?:third|quarter|fifth|tenth)s?)(?!\w)",
    re.IGNORECASE,
)
_UNIT = re.compile(r"(?:\s|&nbsp;)?(?:%|per\s?cent|fps|ms|times)(?![\w])", re.IGNORECASE)


@dataclass(frozen=True, slots=True, order=True)
class Number:
    """A number in a draft.

    Attributes:
        start: Where it starts.
        text: The number with what it hangs together with, ``12``, ``x16`` or ``twice``.
        kind: ``prose`` for a stray one, else why it may stand.
    """

    start: int
    text: str
    kind: str


def numbers_of(
    text: str, kinds: list[str], names: Iterable[str], allowed: Sequence[str]
) -> list[Number]:
    """Give every number of a draft, stray or not, in order.

    Args:
        text: The draft, its placeholders blanked out.
        kinds: What each character is; extended here.
        names: Names of the study.
        allowed: Texts that the draft allows.
    """
    for kind, texts in ((ALLOWED, allowed), (NAME, list(names))):
        for found in _texts(texts).finditer(text) if texts else ():
            mark(kinds, *found.span(), kind)
    for kind, pattern in _PATTERNS:
        for found in pattern.finditer(text):
            mark(kinds, *found.span(), kind)
    return sorted([*_digits(text, kinds), *_entities(text, kinds), *_spelled(text, kinds)])


def unused(text: str, allowed: Sequence[str]) -> list[str]:
    """Give what is allowed and occurs nowhere."""
    return [held for held in allowed if not _texts([held]).search(text)]


def _texts(texts: Sequence[str]) -> re.Pattern[str]:
    """Match any of some texts as whole words, the longest first; any white space between words."""
    longest = sorted(set(texts), key=lambda held: (-len(held), held))
    parts = (r"(?:\s|&nbsp;)+".join(map(re.escape, held.split())) for held in longest)
    return re.compile(rf"(?<!\w)(?:{'|'.join(parts)})(?!\w)", re.IGNORECASE)


def _digits(text: str, kinds: list[str]) -> Iterator[Number]:
    place = 0
    while place < len(text):
        if is_numeric(text[place]) and kinds[place] != DIGIT_ENTITY:
            start, end = _whole(text, kinds, place)
            unit = _UNIT.match(text, end) if kinds[place] == PROSE else None
            shown = text[start : unit.end() if unit else end].strip("*_\"'.,;:")
            yield Number(place, shown, kinds[place])
            place = max(end, place + 1)
        else:
            place += 1


def _whole(text: str, kinds: list[str], place: int) -> tuple[int, int]:
    """Give where a number starts and ends with the letters and signs that hang on it."""
    first, last = place, place + 1
    while first and kinds[first - 1] == kinds[place] and _hangs(text[first - 1]):
        first -= 1
    while last < len(text) and kinds[last] == kinds[place] and _hangs(text[last]):
        last += 1
    return first, last


def _hangs(character: str) -> bool:
    return character.isalnum() or is_numeric(character) or character in "-+−±–%.,:&#×/’\u00a0\u202f"


def _entities(text: str, kinds: list[str]) -> Iterator[Number]:
    for found in ENTITIES.finditer(text):
        if kinds[found.start()] == DIGIT_ENTITY:
            yield Number(found.start(), found[0], PROSE)


def _spelled(text: str, kinds: list[str]) -> Iterator[Number]:
    for found in SPELLED.finditer(text):
        if kinds[found.start()] == PROSE and not any(map(is_numeric, found[0])):
            yield Number(found.start(), found[0], PROSE)
