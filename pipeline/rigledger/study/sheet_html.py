"""The run sheet as one printable HTML page, with a box to tick beside each run."""

from __future__ import annotations

from html import escape
from importlib.resources import files
from string import Template
from typing import TYPE_CHECKING, Any

from rigledger.study.cautions import CAUTIONS
from rigledger.study.sheet_rows import counts_text, day_text, hours_text, sheet_rows

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.study.model import Design
    from rigledger.study.sheet_model import DayPart, Sheet


def sheet_html(sheet: Sheet, design: Design, *, day_starts: str = "09:00") -> str:
    """Give the sheet as a page that prints on paper and needs nothing beside it.

    Args:
        sheet: The sheet.
        design: Its study's design, for titles and metrics.
        day_starts: Clock time at which measuring starts each day.
    """
    rows = sheet_rows(sheet, design, day_starts=day_starts)
    page = files("rigledger.study").joinpath("templates/sheet.html").read_text(encoding="utf-8")
    return Template(page).substitute(
        title=escape(f"Run sheet of {design.title}"),
        question=escape(design.question),
        counts=escape(counts_text(sheet)),
        seed=escape(sheet.seed),
        cautions="\n".join(f"<li>{escape(text)}</li>" for text in CAUTIONS),
        days="\n".join(_parts(sheet, design, rows, day_starts)),
    )


def _parts(
    sheet: Sheet, design: Design, rows: list[dict[str, Any]], day_starts: str
) -> Iterable[str]:
    left = iter(rows)
    day = 0
    for part in sheet.days:
        if part.day != day:
            day = part.day
            yield f'<h2 class="day">{escape(day_text(sheet, day, day_starts))}</h2>'
        yield _section(part, design, [next(left) for _ in part.session.runs])


def _section(part: DayPart, design: Design, rows: list[dict[str, Any]]) -> str:
    session = part.session
    head = (
        f"{session.rig}: boot {session.boot}, round {session.round}, level"
        f" {' and '.join(session.levels)} ({hours_text(session.minutes)})"
    )
    values = "".join(f'<th class="value">{escape(name)}</th>' for name in design.metrics)
    blank = '<td class="value"></td>' * len(design.metrics)
    names = "".join(
        f"<th>{name}</th>" for name in ("Starts", "Run", "Title", "Resolution", "Level")
    )
    lines = "\n".join(_line(row, blank) for row in rows)
    return (
        f"<section>{_swap(part)}<h3>{escape(head)}</h3>\n<table><thead><tr>"
        f'<th class="tick">✓</th>{names}<th class="number">Pass</th>{values}</tr></thead>\n'
        f"<tbody>\n{lines}\n</tbody></table></section>"
    )


def _swap(part: DayPart) -> str:
    if not (part.swap_first and part.block.swap_minutes):
        return ""
    block = part.block
    text = f"Put {block.card} into {block.platform} ({block.swap_minutes:g} min)."
    return f"<p><strong>{escape(text)}</strong></p>"


def _line(row: dict[str, Any], blank: str) -> str:
    title = row["title"] + (" (sentinel)" if row["role"] == "sentinel" else "")
    shown = (row["starts"], row["run"], title, row["resolution"], row["level"])
    cells = "".join(f"<td>{escape(str(text))}</td>" for text in shown)
    number = f'<td class="number">{row["pass"]}</td>'
    return f'<tr class="{row["role"]}"><td class="tick"></td>{cells}{number}{blank}</tr>'
