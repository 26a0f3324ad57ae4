"""Words of CHANGES.md: text that Markdown shows as it is, lists that end."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any, NamedTuple

from rigledger.legible import legible

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

SHOWN = 40
_MARKS = "\\`*_{}[]<>|#~"
_SPECIAL = str.maketrans({mark: f"\\{mark}" for mark in _MARKS})
_ESCAPED = re.compile(rf"\\([{re.escape(_MARKS)}])")


class Section(NamedTuple):
    """A part of CHANGES.md.

    Attributes:
        title: Its heading.
        lines: Its entries, as Markdown.
    """

    title: str
    lines: tuple[str, ...]


def markdown(text: object) -> str:
    """Give text so that Markdown shows it as it is, on one line, and nothing turns around it."""
    return " ".join(legible(str(text)).split()).translate(_SPECIAL)


def plain(text: str) -> str:
    """Give the text that Markdown shows for what ``markdown`` wrote."""
    return _ESCAPED.sub(r"\1", text)


def section(title: str, lines: Iterable[str]) -> list[Section]:
    """Give a section with as many lines as a reader reads; nothing where there are none."""
    held = list(lines)
    if not held:
        return []
    more = [f"and {len(held) - SHOWN} more, in changes.csv"] if len(held) > SHOWN else []
    return [Section(title, (*held[:SHOWN], *more))]


def written(held: Section) -> list[str]:
    """Write a section as lines of Markdown, with a blank one at its end."""
    return [f"## {held.title}", "", *(f"- {line}" for line in held.lines), ""]


def row_line(row: Mapping[str, Any]) -> str:
    """Tell one changed value of one row."""
    was = "blank" if row["was"] is None else markdown(row["was"])
    becomes = "blank" if row["becomes"] is None else markdown(row["becomes"])
    because = f" ({markdown(row['because'])})" if row["because"] is not None else ""
    return (
        f"{row['table']}, {markdown(row['key'])}: {markdown(row['field'])} "
        f"was {was}, becomes {becomes}{because}"
    )
