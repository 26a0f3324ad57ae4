"""Words of CHANGES.md: text that Markdown shows as it is, lists that end."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

SHOWN = 40
_SPECIAL = str.maketrans({mark: f"\\{mark}" for mark in "\\`*_{}[]<>|#~"})


def markdown(text: object) -> str:
    """Give text so that Markdown shows it as it is, on one line."""
    return " ".join(str(text).split()).translate(_SPECIAL)


def listed(title: str, lines: Iterable[str]) -> list[str]:
    """Give a section with as many lines as a reader reads; nothing where there are none."""
    held = list(lines)
    if not held:
        return []
    more = [f"- and {len(held) - SHOWN} more, in changes.csv"] if len(held) > SHOWN else []
    return [f"## {title}", "", *held[:SHOWN], *more, ""]


def row_line(row: Mapping[str, Any]) -> str:
    """Tell one changed value of one row."""
    was = "blank" if row["was"] is None else markdown(row["was"])
    becomes = "blank" if row["becomes"] is None else markdown(row["becomes"])
    because = f" ({markdown(row['because'])})" if row["because"] is not None else ""
    return (
        f"- {row['table']}, {markdown(row['key'])}: {markdown(row['field'])} "
        f"was {was}, becomes {becomes}{because}"
    )
