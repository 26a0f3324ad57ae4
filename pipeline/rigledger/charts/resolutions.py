"""The change over titles against resolution: a panel per card, a line per platform."""

from __future__ import annotations

from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Any

from rigledger.charts import parts
from rigledger.charts.look import LABEL, MARGIN, SMALL, WIDTH, shape
from rigledger.charts.overall import COLUMNS
from rigledger.charts.picture import Picture, elided, new_sheet
from rigledger.charts.scale import change_scale
from rigledger.counting import counted
from rigledger.page.words import signed_pct

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.charts.picture import Sheet
    from rigledger.charts.scale import Scale
    from rigledger.charts.source import Source

    Row = dict[str, Any]

_LABELS, _GAP, _DODGE = 84, 40, 34
_ENDS = ("these_low_95_pct", "these_high_95_pct")


def resolution_pictures(source: Source) -> Iterator[Picture]:
    """Draw the change over titles per contrast, metric and set, where resolutions differ."""
    keys = ("contrast", "metric", "title_set")
    rows = [] if source.choice.title else source.rows("overall")
    for group, found in groupby(rows, lambda row: tuple(row[key] for key in keys)):
        held = list(found)
        if len(parts.resolutions_of(held)) > 1:
            yield _picture(source, group, held)


def _picture(source: Source, group: tuple[str, ...], rows: Sequence[Row]) -> Picture:
    contrast, metric, title_set = group
    title = _title(rows)
    what = (
        f"Geometric mean change of the {source.metric_name(metric)}, "
        f"{source.contrast_name(contrast)}, over the set of titles “{title_set}”, by resolution"
    )
    foot = (
        "Uprights are 95 % intervals for these titles. The band is "
        f"±{source.delta:g} %. A mean over titles has no verdict of its own. Study: "
        f"{source.design.study}; table overall."
    )
    sheet = new_sheet(title, [f"{what}."], foot)
    _draw(sheet, rows, source.delta)
    alt = f"{title}. {what}: a panel per card, resolutions across, a line per platform."
    return Picture(f"resolutions.{'.'.join(group)}", title, alt, sheet.canvas, COLUMNS, rows)


def _title(rows: Sequence[Row]) -> str:
    """Say on which rig resolutions differ most, and whether any intervals part."""
    order = sorted(rows, key=lambda row: (row["rig"], row["change_pct"]))
    by_rig = [list(found) for _, found in groupby(order, key=lambda row: row["rig"])]
    parted = [held for held in by_rig if _part(held)]
    held = max(parted or by_rig, key=lambda one: one[-1]["change_pct"] - one[0]["change_pct"])
    low, high = held[0], held[-1]
    over = counted(max(row["titles"] for row in rows), "title")
    span = (
        f"{signed_pct(low['change_pct'])} at {low['resolution']}, "
        f"{signed_pct(high['change_pct'])} at {high['resolution']}"
    )
    if not parted:
        return (
            f"Over {over} no rig is shown to depend on the resolution (most: {low['rig']}, {span})"
        )
    return f"Over {over} resolutions differ most on {low['rig']}: {span}"


def _part(held: Sequence[Row]) -> bool:
    """Whether two intervals of a rig have nothing in common, which errs towards not saying so."""
    low, high = _ENDS
    known = [row for row in held if row[low] is not None]
    return bool(known) and max(row[low] for row in known) > min(row[high] for row in known)


def _draw(sheet: Sheet, rows: Sequence[Row], delta: float) -> None:
    series = list(dict.fromkeys(_name(row, rows) for row in sorted(rows, key=_order)))
    cards = sorted({row["card_model"] for row in rows})
    parts.key(sheet.canvas, MARGIN, sheet.top + 16, parts.series_key(series))
    ends = [row[end] for row in rows for end in _ENDS if row[end] is not None]
    top, bottom = sheet.top + 104, sheet.bottom - 58
    changes = [row["change_pct"] for row in rows]
    scale = change_scale(changes, ends, delta, bottom, top, beyond=1)
    width = (WIDTH - 2 * MARGIN - _LABELS) / len(cards)
    for value in scale.ticks(8):
        text = f"{parts.tick_text(value)} %"
        x = MARGIN + _LABELS - 12
        sheet.canvas.text(x, scale.at(value), text, size=SMALL, align="right", colour="soft")
    for number, card in enumerate(cards):
        left = MARGIN + _LABELS + width * number
        held = [row for row in rows if row["card_model"] == card]
        _panel(sheet, scale, (left, left + width - _GAP), card, delta)
        named = [(_name(row, rows), row) for row in held]
        _lines(sheet, scale, (left, left + width - _GAP), named, series)


def _name(row: Row, rows: Sequence[Row]) -> str:
    several = len({other["contributor"] for other in rows}) > 1
    return f"{row['platform']} ({row['contributor']})" if several else str(row["platform"])


def _order(row: Row) -> tuple[str, str]:
    return row["contributor"], row["platform"]


def _panel(sheet: Sheet, scale: Scale, sides: tuple[float, float], card: str, delta: float) -> None:
    canvas, (left, right) = sheet.canvas, sides
    canvas.text(left, scale.end - 44, elided(card, 40), size=LABEL, bold=True)
    canvas.rect(left, scale.at(delta), right, scale.at(-delta), "band")
    for value in scale.ticks(8):
        zero = abs(value) < 1e-9
        colour, width = ("soft", 2) if zero else ("line", 1)
        canvas.rule(left, scale.at(value), right, scale.at(value), colour, width=width)


def _lines(
    sheet: Sheet,
    scale: Scale,
    sides: tuple[float, float],
    named: Sequence[tuple[str, Row]],
    series: Sequence[str],
) -> None:
    resolutions = parts.resolutions_of(row for _, row in named)
    step = (sides[1] - sides[0]) / len(resolutions)
    here = [name for name in series if any(held == name for held, _ in named)]
    dodge = min(_DODGE, step / (len(here) + 1))
    middles = {name: sides[0] + step * (place + 0.5) for place, name in enumerate(resolutions)}
    for resolution, x in middles.items():
        sheet.canvas.text(x, scale.start + 46, resolution, size=LABEL, align="center")
    for place, name in enumerate(here):
        line = [row for held, row in named if held == name]
        offset = dodge * (place - (len(here) - 1) / 2)
        points = [
            (middles[row["resolution"]] + offset, scale.at(row["change_pct"])) for row in line
        ]
        colour = f"series-{series.index(name)}"
        for one, other in pairwise(points):
            sheet.canvas.rule(*one, *other, colour, width=1.5)
        for row, (x, y) in zip(line, points, strict=True):
            _mark(sheet, scale, row, (x, y), series.index(name))


def _mark(sheet: Sheet, scale: Scale, row: Row, place: tuple[float, float], number: int) -> None:
    x, y = place
    if row["these_low_95_pct"] is not None:
        ends = (row["these_low_95_pct"], row["these_high_95_pct"])
        parts.upright(sheet.canvas, scale, x, ends, f"series-{number}")
    says = (
        f"{row['rig']}, {row['resolution']}, {row['titles']} titles: "
        f"{signed_pct(row['change_pct'])} "
        f"({parts.interval_text(row['these_low_95_pct'], row['these_high_95_pct'])})"
    )
    sheet.canvas.point(x, y, shape(number), f"series-{number}", size=200, says=says)
