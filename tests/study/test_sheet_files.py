"""The printable page and the workbook hold the same runs as the sheet."""

from __future__ import annotations

from html.parser import HTMLParser
from typing import TYPE_CHECKING

import python_calamine

from rigledger.study.cautions import CAUTIONS
from rigledger.study.sheet import make_sheet, rigs_of
from rigledger.study.sheet_html import sheet_html
from rigledger.study.sheet_rows import COLUMNS, sheet_rows
from rigledger.study.sheet_xlsx import write_sheet_xlsx

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.study.model import Design


class _Page(HTMLParser):
    """Collects the rows of tables as texts, and what else the page says."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: list[list[str]] = []
        self.text: list[str] = []
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "tr":
            self.rows.append([])
        elif tag in {"td", "th"}:
            self.rows[-1].append("")
        self.links += [value or "" for name, value in attrs if name in {"src", "href"}]

    def handle_data(self, data: str) -> None:
        if self.rows and self.rows[-1]:
            self.rows[-1][-1] += data.strip()
        self.text.append(data)


def test_the_page_lists_every_run_and_needs_nothing_beside_it(design: Design) -> None:
    sheet = make_sheet(design, rigs_of(design))
    page = _Page()
    page.feed(sheet_html(sheet, design))
    runs = [row for row in page.rows if row[0] != "✓"]
    expected = [
        (
            row["starts"],
            row["run"],
            row["title"] + (" (sentinel)" if row["role"] == "sentinel" else ""),
            row["resolution"],
            row["level"],
            str(row["pass"]),
        )
        for row in sheet_rows(sheet, design)
    ]
    assert [tuple(row[1:7]) for row in runs] == expected
    assert page.links == []
    assert all(text in "".join(page.text) for text in CAUTIONS)


def test_what_a_title_says_can_not_become_markup(design: Design) -> None:
    from dataclasses import replace

    hostile = replace(design, title="<script>alert(1)</script>", question="a & b < c")
    page = sheet_html(make_sheet(hostile, rigs_of(hostile)), hostile)
    assert "<script>" not in page
    assert "a &amp; b &lt; c" in page


def test_the_workbook_lists_every_run_with_its_numbers_as_text(
    design: Design, tmp_path: Path
) -> None:
    sheet = make_sheet(design, rigs_of(design))
    path = tmp_path / "sheet.xlsx"
    write_sheet_xlsx(path, sheet, design)
    write_sheet_xlsx(tmp_path / "again.xlsx", sheet, design)
    assert path.read_bytes() == (tmp_path / "again.xlsx").read_bytes()
    book = python_calamine.CalamineWorkbook.from_path(str(path))
    held = book.get_sheet_by_name("run sheet").to_python()
    rows = [dict(zip(COLUMNS, row, strict=False)) for row in held[1:]]
    expected = [
        {name: "" if value is None else value for name, value in row.items()}
        for row in sheet_rows(sheet, design)
    ]
    assert rows == expected
