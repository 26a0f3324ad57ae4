"""How much runs of one cell scatter, by workload: as measured, and after borrowing strength."""

from __future__ import annotations

from itertools import groupby
from statistics import median
from typing import TYPE_CHECKING, Any

from rigledger.charts import parts
from rigledger.charts.look import LABEL, MARGIN, SMALL, WIDTH
from rigledger.charts.numbers import Column, percent
from rigledger.charts.picture import Picture, elided, new_sheet
from rigledger.charts.scale import Scale
from rigledger.counting import counted

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.charts.picture import Sheet
    from rigledger.charts.source import Source

    Row = dict[str, Any]

COLUMNS = (
    Column("title", "Title"), Column("cells", "Cells", "count"),
    Column("least_pct", "Least", "percent"), Column("median_pct", "Median", "percent"),
    Column("most_pct", "Most", "percent"),
    Column("moderated_least_pct", "Moderated: least", "percent"),
    Column("moderated_median_pct", "median", "percent"),
    Column("moderated_most_pct", "most", "percent"),
)  # fmt: skip
FOOT = (
    "One stroke per cell. Raw: standard deviation of ln value over a cell's runs within a session, "
    "which three runs tell poorly; at the left edge where all runs read the same. Moderated: the "
    "same after borrowing from the contributor's other cells; intervals rest on it. "
)
_LABELS, _NUMBER, _WORKLOADS = 420, 120, 14


def spread_pictures(source: Source) -> Iterator[Picture]:
    """Draw the spread of all cells by workload, a picture per metric, 14 workloads a page."""
    for metric, found in groupby(source.rows("spreads"), lambda row: row["metric"]):
        if metric not in {*source.design.all_metrics, source.choice.metric}:
            continue
        groups = [list(held) for _, held in groupby(found, lambda row: row["workload"])]
        pages = parts.chunks(groups, _WORKLOADS)
        for number, page in enumerate(pages, 1):
            name = f"spread.{metric}{parts.page_suffix(number, len(pages))}"
            yield _picture(source, name, page)


def _picture(source: Source, name: str, groups: Sequence[list[Row]]) -> Picture:
    rows = [_summary(group) for group in groups]
    metric = source.metric_name(groups[0][0]["metric"])
    cells = counted(sum(len(group) for group in groups), "cell")
    title = _title(rows)
    subtitle = f"Run-to-run spread of the {metric} by workload, {cells}; the number is the median."
    sheet = new_sheet(title, [subtitle], FOOT + f"Study: {source.design.study}; table cells.")
    _draw(sheet, groups, rows)
    alt = f"{title}. {subtitle} A row per workload, raw spreads above, moderated ones below."
    return Picture(name, title, alt, sheet.canvas, COLUMNS, rows)


def _summary(group: Sequence[Row]) -> Row:
    raw = [row["spread_pct"] for row in group]
    held = [row["moderated_spread_pct"] for row in group if row["moderated_spread_pct"] is not None]
    return {
        "workload": group[0]["workload"], "title": group[0]["title"], "cells": len(group),
        "least_pct": min(raw), "median_pct": median(raw), "most_pct": max(raw),
        "moderated_least_pct": min(held, default=None),
        "moderated_median_pct": median(held) if held else None,
        "moderated_most_pct": max(held, default=None),
    }  # fmt: skip


def _title(rows: Sequence[Row]) -> str:
    moderated = all(row["moderated_median_pct"] is not None for row in rows)
    column = "moderated_median_pct" if moderated else "median_pct"
    order = sorted(rows, key=lambda row: row[column])
    low, high = order[0], order[-1]
    if len(order) == 1:
        return f"Runs of a cell scatter by {percent(low[column])} in {low['title']} (median cell)"
    return (
        f"Runs of a cell scatter least in {low['title']} ({percent(low[column])} in the median "
        f"cell), most in {high['title']} ({percent(high[column])})"
    )


def _draw(sheet: Sheet, groups: Sequence[list[Row]], rows: Sequence[Row]) -> None:
    values = [
        row[column] for group in groups for row in group
        for column in ("spread_pct", "moderated_spread_pct") if row[column]
    ]  # fmt: skip
    low, high = min(values, default=0.1), max(values, default=1.0)
    left, right = MARGIN + _LABELS, WIDTH - MARGIN - _NUMBER
    scale = Scale(low / 1.15, max(high, 3 * low) * 1.15, left, right, log=True)
    top, bottom = sheet.top + 16, sheet.bottom - 34
    for value in scale.ticks(10):
        x = scale.at(value)
        sheet.canvas.rule(x, top, x, bottom)
        sheet.canvas.text(x, bottom + 18, f"{value:g} %", size=SMALL, align="center", colour="soft")
    step = (bottom - top) / len(groups)
    for number, (group, row) in enumerate(zip(groups, rows, strict=True)):
        y = top + step * (number + 0.5)
        if number:
            sheet.canvas.rule(MARGIN, y - step / 2, WIDTH - MARGIN, y - step / 2)
        sheet.canvas.text(MARGIN, y, elided(row["title"], 23), bold=True, size=LABEL)
        _strip(sheet, scale, (y - step / 4, step * 0.36), [g["spread_pct"] for g in group], "raw")
        moderated = [g["moderated_spread_pct"] for g in group]
        _strip(sheet, scale, (y + step / 4, step * 0.36), moderated, "moderated")


def _strip(
    sheet: Sheet,
    scale: Scale,
    place: tuple[float, float],
    values: Sequence[float | None],
    name: str,
) -> None:
    canvas, (y, height) = sheet.canvas, place
    held = [value for value in values if value is not None]
    colour, other = ("ink", "square") if name == "raw" else ("series-0", "circle")
    canvas.text(scale.start - 16, y, name, size=SMALL, align="right", colour="soft")
    if not held:
        return
    for value in held:
        canvas.rule(scale.at(value), y - height / 2, scale.at(value), y + height / 2, colour)
    middle = median(held)
    says = f"{name}, median of {len(held)} cells: {percent(middle)}"
    canvas.point(scale.at(middle), y, other, colour, filled=False, size=220, says=says)
    canvas.text(scale.end + 20, y, percent(middle), size=LABEL)
