"""Fills a draft: each placeholder becomes its figure, every other character stays as it is."""

from __future__ import annotations

import bisect
import re
from dataclasses import asdict, dataclass
from html import escape
from typing import TYPE_CHECKING, Any, NamedTuple

from rigledger.errors import near_names
from rigledger.quote import markup
from rigledger.quote.claims import find_claim
from rigledger.quote.figures import Found, Problem
from rigledger.quote.lookup import KEYS, find
from rigledger.quote.numbers import Number, numbers_of, unused
from rigledger.quote.record import Given, numbered
from rigledger.quote.sentences import sentence_span, starts_sentence
from rigledger.quote.syntax import (
    DIRECTIVES,
    OPENS,
    PLACEHOLDER,
    Asked,
    SyntaxProblem,
    understood,
)
from rigledger.quote.wording import Context, worded

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.quote.figures import Figure, Ledger

_BLANK = "\ue000"
_REST_OF_LINE = re.compile(r"[ \t]*(?:\r\n?|\n)")
_NOT_CODE = frozenset({markup.CODE, markup.COMMENT, markup.LINK})


class Piece(NamedTuple):
    """A placeholder in its place."""

    start: int
    end: int
    body: str


@dataclass(frozen=True, slots=True)
class QuoteFinding:
    """A problem of the draft and where it stands.

    Attributes:
        rule: Stable code.
        severity: ``error`` and ``open`` stop the writing, ``stray`` and ``remark`` don't.
        line: Line, from 1.
        column: Column, from 1, in characters.
        value: What stands there.
        reason: What is wrong.
        next_step: What to do.
    """

    rule: str
    severity: str
    line: int
    column: int
    value: str
    reason: str
    next_step: str

    def as_dict(self) -> dict[str, Any]:
        """Give the finding as plain JSON values."""
        return asdict(self)


@dataclass(frozen=True, slots=True)
class Filled:
    """A filled draft.

    Attributes:
        text: The draft with its figures; a placeholder without one is left as it is.
        figures: What each placeholder gave.
        findings: What was found, in the order of the draft.
        left_alone: Numbers that may stand by their kind: line, text, kind.
    """

    text: str
    figures: tuple[Given, ...]
    findings: tuple[QuoteFinding, ...]
    left_alone: tuple[tuple[int, str, str], ...]

    def count(self, *severities: str) -> int:
        """Count the findings of some severities."""
        return sum(held.severity in severities for held in self.findings)


class _Lines:
    """Turns places of a text into line and column."""

    def __init__(self, text: str) -> None:
        self._starts = markup.line_starts(text)

    def at(self, place: int) -> tuple[int, int]:
        line = bisect.bisect_right(self._starts, place)
        return line, place - self._starts[line - 1] + 1


def fill_draft(text: str, ledger: Ledger, *, html: bool) -> Filled:
    """Fill the placeholders of a draft and point out the numbers that none of them made.

    Args:
        text: The draft.
        ledger: Where figures come from.
        html: Whether it is HTML; else it is Markdown.
    """
    pieces = [Piece(*found.span(), found["body"]) for found in PLACEHOLDER.finditer(text)]
    shadow = _blanked(text, pieces)
    kinds = markup.kinds_of(shadow, html=html)
    live = [piece for piece in pieces if kinds[piece.start] not in _NOT_CODE]
    run = _Run(text, shadow, ledger, html, _Lines(text))
    answers = list(run.answers(live))
    left = [piece for piece in pieces if piece not in set(live)]
    run.tell_marks(kinds, left)
    numbers = _numbers(run, shadow, kinds)
    figures, filled = _assembled(run, live, answers)
    return Filled(
        filled, tuple(figures),
        tuple(sorted(run.findings, key=lambda held: (held.line, held.column))),
        tuple((run.lines.at(held.start)[0], held.text, held.kind) for held in numbers),
    )  # fmt: skip


def _blanked(text: str, pieces: Sequence[Piece]) -> str:
    """Put a letter that means nothing in the place of each placeholder; lines stay as they are."""
    parts, place = [], 0
    for piece in pieces:
        inside = text[piece.start : piece.end]
        blank = "".join(held if held in "\r\n" else _BLANK for held in inside)
        parts += [text[place : piece.start], blank]
        place = piece.end
    return "".join([*parts, text[place:]])


@dataclass(frozen=True, slots=True)
class _Answer:
    """What a placeholder gives: a text, or None where it gives none; and the figure behind it."""

    text: str | None
    found: Found | None


class _Run:
    """One filling: the draft, its defaults so far, and what was found."""

    def __init__(self, text: str, shadow: str, ledger: Ledger, html: bool, lines: _Lines) -> None:
        self.text, self.shadow, self.ledger = text, shadow, ledger
        self.html, self.lines = html, lines
        self.findings: list[QuoteFinding] = []
        self.allowed: list[str] = []
        self.defaults: Asked | None = None

    def answers(self, pieces: Sequence[Piece]) -> Iterator[_Answer]:
        """Give what each placeholder gives, directives in their order."""
        for piece in pieces:
            try:
                asked = understood(piece.body, html=self.html)
            except SyntaxProblem as problem:
                self._tell(piece, Problem("syntax", "error", problem.reason, problem.next_step))
                yield _Answer(None, None)
                continue
            yield (
                self._directive(piece, asked)
                if asked.word in DIRECTIVES
                else self._figure(piece, asked)
            )

    def _directive(self, piece: Piece, asked: Asked) -> _Answer:
        legal = {key for keys in KEYS.values() for key in keys}
        for key in asked.names:
            if key not in legal:
                step = near_names(key, legal)
                self._tell(piece, Problem("unknown_name", "error", f"no {key!r} is known", step))
        if asked.word == "use":
            self.defaults = asked.with_defaults(self.defaults)
        self.allowed += asked.allowed
        return _Answer("", None)

    def _figure(self, piece: Piece, asked: Asked) -> _Answer:
        asked = asked.with_defaults(self._defaults_of(asked))
        found = (
            find_claim(self.ledger, asked) if asked.word == "claim" else find(self.ledger, asked)
        )
        for problem in found.problems:
            self._tell(piece, problem)
        if found.figure is None:
            return _Answer(None, None)
        context = Context(
            self.shadow[max(0, piece.start - 60) : piece.start],
            self.shadow[piece.end : piece.end + 40],
            starts_sentence(self.shadow, piece.start),
        )
        text = worded(found.figure, asked.manner, context)
        for problem in _worded_problems(found, asked, text):
            self._tell(piece, problem)
        return _Answer(escape(text) if self.html else _in_markdown(text), found)

    def _defaults_of(self, asked: Asked) -> Asked | None:
        """Give what ``use`` states, less what this word can't be narrowed by."""
        held = self.defaults
        if held is None:
            return None
        names = {key: name for key, name in held.names.items() if key in KEYS[asked.word]}
        return Asked(held.word, names=names, manner=held.manner)

    def tell_marks(self, kinds: Sequence[str], left: Sequence[Piece]) -> None:
        """Tell placeholders in code, which stay as they are, and marks that don't end."""
        for piece in left:
            kind = kinds[piece.start]
            reason = (
                f"a placeholder in {'code' if kind == markup.CODE else f'a {kind}'} stays as it is"
            )
            self._tell(piece, Problem("in_code", "remark", reason, "take it out to have it filled"))
        place = self.shadow.find(OPENS)
        while place >= 0:
            if kinds[place] != markup.CODE:
                problem = Problem("syntax", "error", "the placeholder doesn't end", "close it: @}")
                self._tell(Piece(place, place + 2, ""), problem)
            place = self.shadow.find(OPENS, place + 2)

    def _tell(self, piece: Piece, problem: Problem) -> None:
        line, column = self.lines.at(piece.start)
        value = " ".join(self.text[piece.start : piece.end].split())
        self.findings.append(
            QuoteFinding(
                problem.rule, problem.severity, line, column, value, problem.reason,
                problem.next_step,
            )
        )  # fmt: skip

    def tell_stray(self, number: Number) -> None:
        """Tell a number that no placeholder made."""
        line, column = self.lines.at(number.start)
        self.findings.append(
            QuoteFinding(
                "stray_number", "stray", line, column, number.text,
                "no placeholder made this number", "let one make it, or allow it: "
                f"{{@ allow {number.text} @}}",
            )
        )  # fmt: skip

    def tell_unused(self) -> None:
        """Tell what is allowed and occurs nowhere."""
        for text in unused(self.shadow, self.allowed):
            place = max(self.text.find(text), 0)
            problem = Problem(
                "unused", "remark", f"{text!r} is allowed and occurs nowhere", "drop it"
            )
            self._tell(Piece(place, place + len(text), ""), problem)


def _worded_problems(found: Found, asked: Asked, text: str) -> Iterator[Problem]:
    """A word for a direction is a claim of its own: it needs one that is shown."""
    figure = found.figure
    if figure is None:
        return
    words = asked.manner.words & {"faster-slower", "higher-lower", "gain-loss"}
    if words and figure.direction == "not_shown":
        yield Problem(
            "direction_not_shown", "open", "the data don't show which way it changes",
            "leave the word away and ask for the interval",
        )  # fmt: skip
    is_open = any(held.severity == "open" for held in found.problems)
    if figure.printed and not asked.manner.words and not is_open and not _reads_as(text, figure):
        yield Problem(
            "printed_otherwise", "remark",
            f"claims.toml prints {figure.printed!r}, the data round to {text!r}",
            "bring claims.toml up to date",
        )  # fmt: skip


def _reads_as(text: str, figure: Figure) -> bool:
    """Whether a text is what claims.toml prints, or the end of it."""
    plain, printed = (held.lower().replace("\u2212", "-") for held in (text, figure.printed or ""))
    return printed.endswith(plain)


def _in_markdown(text: str) -> str:
    """Keep a claim's sentence from being read as markup; figures hold none of these."""
    return "".join(f"\\{held}" if held in "\\`*_[]<>|" else held for held in text)


def _numbers(run: _Run, shadow: str, kinds: list[str]) -> list[Number]:
    found = numbers_of(shadow, kinds, run.ledger.names, run.allowed)
    for number in found:
        if number.kind == markup.PROSE:
            run.tell_stray(number)
    run.tell_unused()
    return [held for held in found if held.kind != markup.PROSE]


def _assembled(
    run: _Run, pieces: Sequence[Piece], answers: Sequence[_Answer]
) -> tuple[list[Given], str]:
    """Put the answers in their places; give the filled text and the figures with sentences."""
    texts = [
        run.text[piece.start : piece.end] if held.text is None else held.text
        for piece, held in zip(pieces, answers, strict=True)
    ]
    figures = []
    keys = numbered(run.text[piece.start : piece.end] for piece in pieces)
    pieces = [
        _whole_line(run.text, piece) if held.text == "" else piece
        for piece, held in zip(pieces, answers, strict=True)
    ]
    for piece, held, text, (name, nth) in zip(pieces, answers, texts, keys, strict=True):
        if held.found is None or held.found.figure is None:
            continue
        figure = held.found.figure
        start, end = sentence_span(run.shadow, piece.start, piece.end)
        sentence = " ".join(_put(run.text, pieces, texts, start, end).split())
        line, column = run.lines.at(piece.start)
        figures.append(
            Given(
                name, nth, line, column, text, figure.value, figure.low, figure.high, figure.unit,
                figure.rests_on, sentence,
            )
        )  # fmt: skip
    return figures, _put(run.text, pieces, texts, 0, len(run.text))


def _whole_line(text: str, piece: Piece) -> Piece:
    """Give a directive the end of its line where it has the line to itself."""
    start = max(text.rfind("\n", 0, piece.start), text.rfind("\r", 0, piece.start)) + 1
    ends = _REST_OF_LINE.match(text, piece.end)
    if text[start : piece.start].strip(" \t") or ends is None:
        return piece
    return Piece(start, ends.end(), piece.body)


def _put(text: str, pieces: Sequence[Piece], texts: Sequence[str], start: int, end: int) -> str:
    """Give a stretch of the draft with the placeholders in it replaced."""
    parts, place = [], start
    for piece, given in zip(pieces, texts, strict=True):
        if start <= piece.start and piece.end <= end:
            parts += [text[place : piece.start], given]
            place = piece.end
    return "".join([*parts, text[place:end]])
