"""The record beside a filled draft: what each placeholder gave, to tell later what has changed."""

from __future__ import annotations

import hashlib
import json
from collections import Counter
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from rigledger.errors import StudyError

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

ENDING = ".figures.json"


@dataclass(frozen=True, slots=True)
class Given:
    """What one placeholder gave.

    Attributes:
        placeholder: Its text, white space folded.
        nth: Which one of that text it is, from 1.
        line: Its line, from 1.
        column: Its column, from 1, in characters.
        text: What it gave.
        value: The unrounded figure, None for a sentence.
        low: Lower end of its interval.
        high: Upper end.
        unit: Unit of the three.
        rests_on: Where it comes from.
        sentence: The sentence it stands in, filled.
    """

    placeholder: str
    nth: int
    line: int
    column: int
    text: str
    value: float | None
    low: float | None
    high: float | None
    unit: str
    rests_on: str
    sentence: str


@dataclass(frozen=True, slots=True)
class Record:
    """What was filled when a draft was filled before.

    Attributes:
        study: Id of the study.
        draft: SHA-256 of the draft.
        filled: SHA-256 of what was written.
        figures: What each placeholder gave, in order.
    """

    study: str
    draft: str
    filled: str
    figures: tuple[Given, ...]


@dataclass(frozen=True, slots=True)
class Change:
    """A sentence that reads otherwise than before because its figures do.

    Attributes:
        line: Its line in the draft.
        before: The sentence as it was.
        after: The sentence as it is.
        figures: Old and new text of each figure in it that changed.
    """

    line: int
    before: str
    after: str
    figures: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Changes:
    """What is different from the time before; placeholders that the draft gained or lost apart."""

    sentences: tuple[Change, ...] = ()
    gained: tuple[str, ...] = ()
    lost: tuple[str, ...] = ()


def record_path(filled: Path) -> Path:
    """Give where the record of a filled draft lies."""
    return filled.with_name(filled.name + ENDING)


def sha256(data: bytes) -> str:
    """Hash bytes."""
    return hashlib.sha256(data).hexdigest()


def record_text(record: Record) -> str:
    """Give the record as JSON; the same record, the same text."""
    return json.dumps(asdict(record), ensure_ascii=False, indent=2) + "\n"


def read_record(filled: Path) -> Record | None:
    """Read the record beside a filled draft; None where there is none.

    Raises:
        StudyError: It can't be read.
    """
    path = record_path(filled)
    if not path.is_file():
        return None
    try:
        held: dict[str, Any] = json.loads(path.read_text(encoding="utf-8"))
        return Record(**held | {"figures": tuple(Given(**item) for item in held["figures"])})
    except (ValueError, TypeError, KeyError) as error:
        raise StudyError(
            "is no record of a filled draft", file=str(path),
            next_step="remove it; the changed sentences can't be told this time",
        ) from error  # fmt: skip


def numbered(placeholders: Iterable[str]) -> list[tuple[str, int]]:
    """Give each placeholder's text with which one of that text it is."""
    seen: Counter[str] = Counter()
    found = []
    for text in placeholders:
        folded = " ".join(text.split())
        seen[folded] += 1
        found.append((folded, seen[folded]))
    return found


def compare(before: Record | None, now: Sequence[Given]) -> Changes:
    """Say which sentences read otherwise than before because a figure in them changed."""
    if before is None:
        return Changes()
    old = {(held.placeholder, held.nth): held for held in before.figures}
    new = {(held.placeholder, held.nth): held for held in now}
    return Changes(
        tuple(_changed(old, now)),
        tuple(key[0] for key in new if key not in old),
        tuple(key[0] for key in old if key not in new),
    )


def _changed(old: dict[tuple[str, int], Given], now: Sequence[Given]) -> list[Change]:
    """Give a change per sentence, with all its figures that changed."""
    sentences: dict[tuple[int, str], list[tuple[Given, Given]]] = {}
    for held in now:
        was = old.get((held.placeholder, held.nth))
        if was is not None and was.text != held.text:
            sentences.setdefault((held.line, held.sentence), []).append((was, held))
    return [
        Change(
            line, pairs[0][0].sentence, sentence, tuple((was.text, to.text) for was, to in pairs)
        )
        for (line, sentence), pairs in sentences.items()
    ]
