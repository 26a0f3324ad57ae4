"""Placeholders: what stands between ``{@`` and ``@}`` in a draft, split and understood.

    {@ change rig=bench.q3-52 workload=kippereen-deep resolution=1920x1080 | interval @}

A word says what is asked for, ``name=value`` which cell is meant, and after a bar stands how the
figure is to be written. Two words are directives, which give nothing: ``use`` states names and
manners for all placeholders below it, ``allow`` lists numbers that may stand in the text.
"""

from __future__ import annotations

import re
import shlex
from dataclasses import dataclass, field
from html import unescape

from rigledger.errors import near_names

OPENS, CLOSES = "{@", "@}"
PLACEHOLDER = re.compile(r"\{@(?P<body>(?:(?!\{@).)*?)@\}", re.DOTALL)
CELL_WORDS = ("change", "value", "mean-change", "difference", "largest-gain", "largest-loss")
NAMED_WORDS = ("claim", "count")
DIRECTIVES = ("use", "allow")
WORDS = (*CELL_WORDS, *NAMED_WORDS, "material-change", *DIRECTIVES)
MANNERS = (
    "interval", "size", "signed", "bare", "tight", "up-to", "sentence", "faster-slower",
    "higher-lower", "gain-loss",
)  # fmt: skip
_DIGITS = re.compile(r"digits=([0-6])")


class SyntaxProblem(ValueError):  # noqa: N818 - a problem of the draft, told as a finding
    """A placeholder can't be understood.

    Attributes:
        reason: What is wrong, in a sentence.
        next_step: What to do about it.
    """

    def __init__(self, reason: str, next_step: str) -> None:
        super().__init__(reason)
        self.reason = reason
        self.next_step = next_step


@dataclass(frozen=True)
class Manner:
    """How a figure is to be written.

    Attributes:
        words: Words of `MANNERS`.
        digits: Decimals; None for the usual ones.
    """

    words: frozenset[str] = frozenset()
    digits: int | None = None

    def over(self, below: Manner) -> Manner:
        """Give the two together; what this one states counts."""
        digits = below.digits if self.digits is None else self.digits
        signs = {"signed", "size"}
        kept = below.words - signs if self.words & signs else below.words
        return Manner(self.words | kept, digits)


@dataclass(frozen=True)
class Asked:
    """A placeholder, understood.

    Attributes:
        word: One of `WORDS`.
        thing: The claim, or what is counted; None for other words.
        names: Which cell is meant.
        manner: How to write it.
        allowed: Texts that may stand, of ``allow``.
    """

    word: str
    thing: str | None = None
    names: dict[str, str] = field(default_factory=dict)
    manner: Manner = Manner()
    allowed: tuple[str, ...] = ()

    def with_defaults(self, below: Asked | None) -> Asked:
        """Give it with the names and manners of ``use`` where it states none itself."""
        if below is None:
            return self
        return Asked(
            self.word, self.thing, below.names | self.names, self.manner.over(below.manner)
        )


def understood(body: str, *, html: bool) -> Asked:
    """Understand what stands between the marks of a placeholder.

    Args:
        body: The text between them.
        html: Whether it stands in HTML, where quotes may be written as entities.

    Raises:
        SyntaxProblem: It can't be understood; says what would be right.
    """
    text = " ".join((unescape(body) if html else body).split())
    word, _, rest = text.partition(" ")
    if word not in WORDS:
        raise SyntaxProblem(f"{word!r} is no word of a placeholder", near_names(word, WORDS))
    if word == "allow":
        return Asked(word, allowed=_allowed(rest))
    what, _, how = rest.partition("|")
    parts = _split(what)
    thing = _thing(word, parts)
    return Asked(word, thing, _names(parts[1:] if thing else parts), _manner(how))


def _allowed(text: str) -> tuple[str, ...]:
    held = tuple(part.strip() for part in text.split(";") if part.strip())
    if not held:
        raise SyntaxProblem("allows nothing", "write {@ allow 24 GB; two of eight @}")
    return held


def _split(text: str) -> list[str]:
    try:
        return shlex.split(text)
    except ValueError as error:
        raise SyntaxProblem("a quotation mark has no partner", "write title='Two words'") from error


def _thing(word: str, parts: list[str]) -> str | None:
    if word not in NAMED_WORDS:
        return None
    if not parts or "=" in parts[0]:
        what = "a claim's name" if word == "claim" else "what is counted"
        raise SyntaxProblem(f"{word} needs {what} behind it", f"write {{@ {word} NAME @}}")
    return parts[0]


def _names(parts: list[str]) -> dict[str, str]:
    names: dict[str, str] = {}
    for part in parts:
        key, equals, value = part.partition("=")
        if not (key and equals and value):
            raise SyntaxProblem(f"{part!r} is not name=value", "write rig=bench.q3-52")
        if key in names:
            raise SyntaxProblem(f"{key} is named twice", f"name {key} once")
        names[key] = value
    return names


def _manner(text: str) -> Manner:
    words, digits = set(), None
    for word in text.replace(",", " ").split():
        found = _DIGITS.fullmatch(word)
        if found:
            digits = int(found[1])
        elif word in MANNERS:
            words.add(word)
        else:
            legal = (*MANNERS, "digits=1")
            raise SyntaxProblem(f"{word!r} is no manner of writing", near_names(word, legal))
    return Manner(frozenset(words), digits)
