"""The numbers under a picture, to paste: Markdown, an HTML table, CSV."""

from __future__ import annotations

import csv
import io
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any, Literal

from rigledger.page.words import plain_number, signed_pct

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

Kind = Literal["text", "count", "change", "percent", "value"]


@dataclass(frozen=True, slots=True)
class Column:
    """A column of the numbers.

    Attributes:
        name: The column of the derived table, the CSV's heading.
        heading: What people read.
        kind: How a value is written for people; the CSV has it unrounded.
    """

    name: str
    heading: str
    kind: Kind = "text"


def percent(value: float | None) -> str:
    """Write a spread as ``0.64 %``; a dash where there is none."""
    if value is None:
        return "–"
    return f"{value:.2f} %" if value < 10 else f"{value:.1f} %"


def _text(value: object) -> str:
    return "–" if value is None else str(value)


_WRITTEN: dict[Kind, Callable[[Any], str]] = {
    "text": _text, "count": _text, "change": signed_pct, "percent": percent, "value": plain_number,
}  # fmt: skip


def written(column: Column, row: dict[str, Any]) -> str:
    """Write a row's value for people."""
    return _WRITTEN[column.kind](row[column.name])


def as_csv(columns: Sequence[Column], rows: Sequence[dict[str, Any]]) -> str:
    """Give the numbers as CSV, as the derived tables hold them: unrounded, blank for none."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(column.name for column in columns)
    writer.writerows([_plain(row[column.name]) for column in columns] for row in rows)
    return text.getvalue()


def _plain(value: object) -> object:
    if isinstance(value, bool):
        return str(value).lower()
    return repr(value) if isinstance(value, float) else value


def as_markdown(title: str, columns: Sequence[Column], rows: Sequence[dict[str, Any]]) -> str:
    """Give the numbers as a Markdown table under the picture's title."""
    rule = ["---" if column.kind == "text" else "---:" for column in columns]
    body = [[_piped(written(column, row)) for column in columns] for row in rows]
    lines = [[_piped(column.heading) for column in columns], rule, *body]
    table = "\n".join(f"| {' | '.join(line)} |" for line in lines)
    return f"**{title}**\n\n{table}\n"


def _piped(text: str) -> str:
    return text.replace("|", "\\|")


def as_html(title: str, columns: Sequence[Column], rows: Sequence[dict[str, Any]]) -> str:
    """Give the numbers as an HTML table with a caption; it brings no style of its own."""
    heads = "".join(f'<th scope="col">{escape(column.heading)}</th>' for column in columns)
    body = "\n".join(_html_row(columns, row) for row in rows)
    caption = f"<caption>{escape(title)}</caption>"
    head = f"<thead><tr>{heads}</tr></thead>"
    return f"<table>\n{caption}\n{head}\n<tbody>\n{body}\n</tbody>\n</table>\n"


def _html_row(columns: Sequence[Column], row: dict[str, Any]) -> str:
    cells = (f"<td{_align(column)}>{escape(written(column, row))}</td>" for column in columns)
    return f"<tr>{''.join(cells)}</tr>"


def _align(column: Column) -> str:
    return "" if column.kind == "text" else ' style="text-align:right"'
