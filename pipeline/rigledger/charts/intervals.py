"""All comparisons of a contrast and metric in one picture: a panel per title, a row per rig."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from rigledger.charts import parts
from rigledger.charts.headline import counts, headline_of_title, headline_over_titles
from rigledger.charts.look import LABEL, MARGIN, WIDTH, shape
from rigledger.charts.numbers import Column
from rigledger.charts.picture import Picture, elided, new_sheet
from rigledger.charts.scale import change_scale

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.charts.picture import Sheet
    from rigledger.charts.scale import Scale
    from rigledger.charts.source import Source

    Row = dict[str, Any]

COLUMNS = (
    Column("title", "Title"), Column("resolution", "Resolution"), Column("rig", "Rig"),
    Column("platform", "Platform"), Column("card_model", "Card"),
    Column("from_value", "From", "value"), Column("to_value", "To", "value"),
    Column("unit", "Unit"), Column("change_pct", "Change", "change"),
    Column("low_95_pct", "95 % from", "change"), Column("high_95_pct", "95 % to", "change"),
    Column("direction", "Direction"), Column("size", "Size"),
    Column("no_verdict", "No verdict because"),
)  # fmt: skip
FOOT = (
    "Lines are 95 % intervals, an arrowhead where one runs off the scale. Filled: a change beyond "
    "the band is shown; hollow: it is not; grey: no verdict. The band is ±{delta:g} %, the study's "
    "material change. "
)
ENDS = ("low_95_pct", "high_95_pct")
_TITLES, _RIGS, _LABELS, _GAP = 8, 10, 286, 44


def interval_pictures(source: Source) -> Iterator[Picture]:
    """Draw all comparisons, pages of up to eight titles and ten rigs per contrast and metric."""
    rows = source.rows("changes")
    for (contrast, metric), found in groupby(rows, lambda row: (row["contrast"], row["metric"])):
        held = list(found)
        pages = [
            [row for row in held if row["workload"] in titles and row["rig"] in rigs]
            for titles in parts.chunks(
                list(dict.fromkeys(row["workload"] for row in held)), _TITLES
            )
            for rigs in parts.chunks([rig.rig for rig in parts.rigs_of(held)], _RIGS)
        ]
        pages = [page for page in pages if page]
        for number, page in enumerate(pages, 1):
            name = f"intervals.{contrast}.{metric}{parts.page_suffix(number, len(pages))}"
            yield _picture(source, name, page)


def _picture(source: Source, name: str, rows: Sequence[Row]) -> Picture:
    first = rows[0]
    metric, contrast = source.metric_name(first["metric"]), source.contrast_name(first["contrast"])
    title = _title(source, rows)
    what = f"Change of the {metric}, {contrast}"
    count = counts(rows, source.delta)
    foot = FOOT.format(delta=source.delta) + f"Study: {source.design.study}; table comparisons."
    sheet = new_sheet(title, [f"{what}. {count}"], foot)
    _draw(sheet, rows, source.delta)
    alt = (
        f"{title}. {what}: a panel per title, a row per rig, a mark per resolution with its 95 % "
        f"interval. {count}"
    )
    return Picture(name, title, alt, sheet.canvas, COLUMNS, rows)


def _title(source: Source, rows: Sequence[Row]) -> str:
    if len({row["workload"] for row in rows}) > 1:
        return headline_over_titles(rows, source.delta)
    first = rows[0]
    tests = [
        test for test in source.rows("depends")
        if all(test[key] == first[key] for key in ("workload", "contrast", "metric"))
    ]  # fmt: skip
    return headline_of_title(rows, tests, source.delta)


def _draw(sheet: Sheet, rows: Sequence[Row], delta: float) -> None:
    resolutions, rigs = parts.resolutions_of(rows), parts.rigs_of(rows)
    entries = [(shape(number), "ink", True, name) for number, name in enumerate(resolutions)]
    parts.key(sheet.canvas, MARGIN, sheet.top + 14, entries)
    panels = [list(held) for _, held in groupby(rows, lambda row: row["workload"])]
    across = min(4, len(panels))
    down = -(-len(panels) // across)
    height = (sheet.bottom - sheet.top - 40) / down
    width = (WIDTH - 2 * MARGIN - _LABELS) / across
    changes = [row["change_pct"] for row in rows]
    ends = [row[end] for row in rows for end in ENDS if row[end] is not None]
    for number, panel in enumerate(panels):
        left = MARGIN + _LABELS + width * (number % across)
        top = sheet.top + 40 + height * (number // across)
        scale = change_scale(changes, ends, delta, left, left + width - _GAP)
        _panel(
            sheet, panel, rigs, resolutions,
            scale=scale, span=(top, top + height), delta=delta, labels=number % across == 0,
        )  # fmt: skip


def _panel(
    sheet: Sheet,
    rows: Sequence[Row],
    rigs: Sequence[parts.Rig],
    resolutions: Sequence[str],
    *,
    scale: Scale,
    span: tuple[float, float],
    delta: float,
    labels: bool,
) -> None:
    canvas, top, bottom = sheet.canvas, span[0] + 42, span[1] - 34
    step = (bottom - top) / len(rigs)
    canvas.text(scale.start, span[0] + 22, elided(rows[0]["title"], 26), size=LABEL, bold=True)
    parts.change_axis(canvas, scale, top, bottom, delta)
    for number, rig in enumerate(rigs):
        middle = top + step * (number + 0.5)
        if number and rig.platform != rigs[number - 1].platform:
            canvas.rule(scale.start, middle - step / 2, scale.end, middle - step / 2)
        if labels:
            rig.draw(canvas, scale.start - 14, middle, step)
        for row in (row for row in rows if row["rig"] == rig.rig):
            place = resolutions.index(row["resolution"])
            apart = step / (len(resolutions) + 0.4)
            y = middle + (place - (len(resolutions) - 1) / 2) * apart
            _mark(sheet, row, scale, (y, apart), place)


def _mark(sheet: Sheet, row: Row, scale: Scale, across: tuple[float, float], place: int) -> None:
    (y, apart) = across
    shown = row["no_verdict"] is None
    strong = row["size"] == "material"
    colour = ("series-0" if strong else "ink") if shown else "soft"
    if row["low_95_pct"] is not None:
        ends = (row["low_95_pct"], row["high_95_pct"])
        parts.interval(sheet.canvas, scale, y, ends, colour, width=3.5 if strong else 1.5)
    sheet.canvas.point(
        scale.at(row["change_pct"]), y, shape(place), colour, filled=strong,
        size=min(120.0, max(36.0, (0.85 * apart) ** 2)),
        says=parts.change_says(row),
    )  # fmt: skip
