"""What came of filling a draft, in words and as plain values."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from rigledger.counting import counted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from rigledger.quote.desk import Outcome
    from rigledger.quote.fill import Filled, QuoteFinding
    from rigledger.quote.record import Changes

_HEADS = {
    "error": "has no figure", "open": "the data don't bear it out",
    "stray": "no placeholder made it", "remark": "worth knowing",
}  # fmt: skip


def outcome_lines(made: Outcome, draft: Path, *, left_alone: bool = False) -> Iterator[str]:
    """Say what was filled, what was found, and which sentences changed."""
    for finding in made.filled.findings:
        yield from _finding_lines(finding, draft.name)
    yield from _left_lines(made.filled, listed=left_alone)
    yield from _change_lines(made.changes, draft.name)
    count = counted(len(made.filled.figures), "figure")
    if made.written is None:
        stopped = made.filled.count("error", "open")
        yield f"Nothing is written: {counted(stopped, 'placeholder')} to be looked at first."
        if not made.filled.count("error"):
            yield "Next step: mend the sentences, or write it all the same with --allow-open."
    else:
        yield f"{count} filled in: {made.written}"


def _finding_lines(finding: QuoteFinding, name: str) -> Iterator[str]:
    place = f"{name}:{finding.line}:{finding.column}"
    yield f"{place}  {finding.value}  [{finding.rule}: {_HEADS[finding.severity]}]"
    yield f"    {finding.reason}"
    if finding.next_step:
        yield f"    Next step: {finding.next_step}"


def _left_lines(filled: Filled, *, listed: bool) -> Iterator[str]:
    if not filled.left_alone:
        return
    kinds = Counter(kind for _, _, kind in filled.left_alone)
    parts = ", ".join(f"{number} {kind}" for kind, number in sorted(kinds.items()))
    yield f"{counted(len(filled.left_alone), 'number')} left alone by kind: {parts}"
    for line, text, kind in filled.left_alone if listed else ():
        yield f"    line {line}: {text} ({kind})"


def _change_lines(changes: Changes, name: str) -> Iterator[str]:
    if changes.sentences:
        yield f"{counted(len(changes.sentences), 'sentence')} changed since it was last filled:"
    for change in changes.sentences:
        yield f"  {name}:{change.line}"
        yield f"    was: {change.before}"
        yield f"    now: {change.after}"
    for word, held in (("new", changes.gained), ("gone", changes.lost)):
        for text in held:
            yield f"  {word} since then: {text}"


def as_plain(made: Outcome) -> dict[str, Any]:
    """Give it all as plain JSON values."""
    return {
        "written": str(made.written) if made.written else None,
        "figures": [asdict(held) for held in made.filled.figures],
        "findings": [held.as_dict() for held in made.filled.findings],
        "left_alone": [
            {"line": line, "text": text, "kind": kind}
            for line, text, kind in made.filled.left_alone
        ],
        "changes": asdict(made.changes),
    }
