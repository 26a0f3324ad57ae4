"""The change over a named set of titles: a panel per resolution, a row per rig."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from rigledger.charts import parts
from rigledger.charts.look import LABEL, MARGIN, SMALL, WIDTH
from rigledger.charts.numbers import Column
from rigledger.charts.picture import Picture, new_sheet
from rigledger.charts.scale import change_scale
from rigledger.counting import counted
from rigledger.page.words import signed_pct

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.charts.picture import Sheet
    from rigledger.charts.scale import Scale
    from rigledger.charts.source import Source

    Row = dict[str, Any]

COLUMNS = (
    Column("title_set", "Set of titles"), Column("resolution", "Resolution"), Column("rig", "Rig"),
    Column("platform", "Platform"), Column("card_model", "Card"),
    Column("titles", "Titles", "count"), Column("titles_missing", "Missing", "count"),
    Column("stacks", "Stacks", "count"), Column("change_pct", "Change", "change"),
    Column("these_low_95_pct", "These titles from", "change"),
    Column("these_high_95_pct", "to", "change"),
    Column("like_these_low_95_pct", "Titles like these from", "change"),
    Column("like_these_high_95_pct", "to", "change"),
)  # fmt: skip
_LABELS, _GAP, _NUMBER, _RIGS = 290, 40, 96, 16
_ENDS = (
    "these_low_95_pct", "these_high_95_pct", "like_these_low_95_pct", "like_these_high_95_pct",
)  # fmt: skip


def overall_pictures(source: Source) -> Iterator[Picture]:
    """Draw the change over titles per contrast, metric and set of titles; 16 rigs a page."""
    keys = ("contrast", "metric", "title_set")
    rows = [] if source.choice.title else source.rows("overall")
    for group, found in groupby(rows, lambda row: tuple(row[key] for key in keys)):
        held = list(found)
        pages = parts.chunks([rig.rig for rig in parts.rigs_of(held)], _RIGS)
        for number, rigs in enumerate(pages, 1):
            name = f"overall.{'.'.join(group)}{parts.page_suffix(number, len(pages))}"
            yield _picture(source, name, [row for row in held if row["rig"] in rigs])


def _picture(source: Source, name: str, rows: Sequence[Row]) -> Picture:
    first = rows[0]
    title = _title(rows)
    what = (
        f"Geometric mean change of the {source.metric_name(first['metric'])}, "
        f"{source.contrast_name(first['contrast'])}, over the set of titles “{first['title_set']}”"
    )
    foot = (
        "Thick line: 95 % interval for these titles. Thin line: for titles like these, which is "
        f"about titles that were not measured. The band is ±{source.delta:g} %. A mean over titles "
        f"has no verdict of its own. Study: {source.design.study}; table overall."
    )
    sheet = new_sheet(title, [f"{what}."], foot)
    _draw(sheet, rows, source.delta)
    alt = f"{title}. {what}: a panel per resolution, a row per rig, with both intervals."
    return Picture(name, title, alt, sheet.canvas, COLUMNS, rows)


def _title(rows: Sequence[Row]) -> str:
    most = max(row["titles"] for row in rows)
    over = f"Over {counted(most, 'title')}"
    values = sorted(rows, key=lambda row: row["change_pct"])
    low, high = values[0], values[-1]
    if len(rows) == 1:
        return f"{over} the change is {signed_pct(low['change_pct'])} on {low['rig']}"
    return (
        f"{over} the change runs from {signed_pct(low['change_pct'])} "
        f"({low['rig']} at {low['resolution']}) to {signed_pct(high['change_pct'])}"
    )


def _draw(sheet: Sheet, rows: Sequence[Row], delta: float) -> None:
    resolutions, rigs = parts.resolutions_of(rows), parts.rigs_of(rows)
    width = (WIDTH - 2 * MARGIN - _LABELS) / len(resolutions)
    changes = [row["change_pct"] for row in rows]
    ends = [row[end] for row in rows for end in _ENDS if row[end] is not None]
    for number, resolution in enumerate(resolutions):
        left = MARGIN + _LABELS + width * number
        scale = change_scale(changes, ends, delta, left, left + width - _GAP - _NUMBER)
        held = {row["rig"]: row for row in rows if row["resolution"] == resolution}
        sheet.canvas.text(left, sheet.top + 24, resolution, size=LABEL, bold=True)
        _panel(sheet, held, rigs, scale, delta, labels=number == 0)


def _panel(
    sheet: Sheet,
    held: dict[str, Row],
    rigs: Sequence[parts.Rig],
    scale: Scale,
    delta: float,
    *,
    labels: bool,
) -> None:
    canvas, top, bottom = sheet.canvas, sheet.top + 50, sheet.bottom - 34
    step = (bottom - top) / len(rigs)
    parts.change_axis(canvas, scale, top, bottom, delta)
    for number, rig in enumerate(rigs):
        y = top + step * (number + 0.5)
        if number and rig.platform != rigs[number - 1].platform:
            canvas.rule(scale.start, y - step / 2, scale.end, y - step / 2)
        if labels:
            rig.draw(canvas, scale.start - 16, y, step)
        if rig.rig in held:
            _mark(sheet, held[rig.rig], scale, y)
        else:
            canvas.text(scale.end + 12, y, "not measured", size=SMALL - 3, colour="soft")


def _mark(sheet: Sheet, row: Row, scale: Scale, y: float) -> None:
    canvas = sheet.canvas
    if row["like_these_low_95_pct"] is not None:
        wide = (row["like_these_low_95_pct"], row["like_these_high_95_pct"])
        parts.interval(canvas, scale, y, wide, "soft", width=2)
    if row["these_low_95_pct"] is not None:
        narrow = (row["these_low_95_pct"], row["these_high_95_pct"])
        parts.interval(canvas, scale, y, narrow, "series-0", width=7)
    change = signed_pct(row["change_pct"])
    says = f"{row['rig']}, {row['resolution']}, {row['titles']} titles: {change}"
    canvas.point(scale.at(row["change_pct"]), y, "circle", "series-0", size=190, says=says)
    canvas.text(scale.end + 12, y, change)
