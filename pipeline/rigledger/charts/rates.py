"""Absolute frame rates of a workload: levels side by side, rigs by platform and card."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Any

from rigledger.charts import parts
from rigledger.charts.look import LABEL, MARGIN, SMALL, WIDTH, shape
from rigledger.charts.numbers import Column
from rigledger.charts.picture import Picture, elided, new_sheet
from rigledger.charts.scale import Scale, round_step
from rigledger.page.words import plain_number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.charts.picture import Sheet
    from rigledger.charts.source import Source

    Row = dict[str, Any]

COLUMNS = (
    Column("title", "Title"), Column("resolution", "Resolution"), Column("rig", "Rig"),
    Column("platform", "Platform"), Column("card_model", "Card"), Column("level", "Level"),
    Column("metric", "Metric"), Column("geometric_mean", "Mean", "value"),
    Column("low_95", "95 % from", "value"), Column("high_95", "95 % to", "value"),
    Column("unit", "Unit"), Column("runs", "Runs", "count"),
    Column("sessions", "Sessions", "count"),
    Column("moderated_spread_pct", "Moderated spread", "percent"),
)  # fmt: skip
FOOT = (
    "Marks are geometric means over a cell's sessions, the thick line is the 95 % interval; the "
    "axis starts at zero. Whether two levels differ is said by the comparisons, not by whether "
    "intervals overlap. "
)
_LABELS, _LEVEL, _NUMBER, _GAP, _LINES, _METRICS = 270, 74, 84, 30, 30, 2


@dataclass(frozen=True)
class _Rows:
    """The rows of a picture: where each rig and level lies."""

    rigs: Sequence[parts.Rig]
    levels: Sequence[str]
    top: float
    bottom: float

    @property
    def step(self) -> float:
        return (self.bottom - self.top) / len(self.rigs)

    def middle(self, rig: int) -> float:
        return self.top + self.step * (rig + 0.5)

    def y(self, rig: int, level: str) -> float:
        offset = self.levels.index(level) - (len(self.levels) - 1) / 2
        return self.middle(rig) + offset * self.step / (len(self.levels) + 0.35)


def rate_pictures(source: Source) -> Iterator[Picture]:
    """Draw the cells of each workload and resolution, two metrics beside each other."""
    levels = [level.level for level in source.design.ranked_levels]
    shown = set(source.design.all_metrics) | {source.choice.metric}
    rows = [row for row in source.rows("cells") if row["metric"] in shown]
    if source.choice.contrast:
        held = next(c for c in source.design.contrasts if c.contrast == source.choice.contrast)
        levels = [level for level in levels if level in {held.from_level, held.to_level}]
    rows = [row for row in rows if row["level"] in levels]
    changes = source.rows("changes")
    for (workload, resolution), found in groupby(rows, lambda r: (r["workload"], r["resolution"])):
        about = [c for c in changes if (c["workload"], c["resolution"]) == (workload, resolution)]
        yield from _pages(source, list(found), levels, about)


def _pages(
    source: Source, rows: Sequence[Row], levels: Sequence[str], changes: Sequence[Row]
) -> Iterator[Picture]:
    metrics = [name for name in source.contract.metrics if any(r["metric"] == name for r in rows)]
    rigs = [rig.rig for rig in parts.rigs_of(rows)]
    most = max(1, _LINES // len(levels))
    pages = [(m, r) for m in parts.chunks(metrics, _METRICS) for r in parts.chunks(rigs, most)]
    for number, (some, few) in enumerate(pages, 1):
        held = [row for row in rows if row["metric"] in some and row["rig"] in few]
        about = [row for row in changes if row["metric"] in some and row["rig"] in few]
        name = f"rates.{rows[0]['workload']}.{rows[0]['resolution']}"
        name += parts.page_suffix(number, len(pages))
        yield _picture(source, name, (held, levels, some, about))


def _picture(
    source: Source,
    name: str,
    what: tuple[Sequence[Row], Sequence[str], Sequence[str], Sequence[Row]],
) -> Picture:
    rows, levels, metrics, changes = what
    place = f"{rows[0]['title']} at {rows[0]['resolution']}"
    title = f"{place}, {_title(source, metrics, changes)}"
    names = " and ".join(source.metric_name(metric) for metric in metrics)
    subtitle = f"{names[0].upper()}{names[1:]}, every level beside the others."
    foot = FOOT + f"Study: {source.design.study}; table cells."
    sheet = new_sheet(title, [subtitle], foot)
    _draw(sheet, source, (rows, levels, metrics))
    alt = f"{title}. {subtitle} A row per rig, a mark per level with its 95 % interval."
    return Picture(name, title, alt, sheet.canvas, COLUMNS, rows)


def _title(source: Source, metrics: Sequence[str], changes: Sequence[Row]) -> str:
    """Say per contrast on how many rigs the first metric changed materially."""
    names = {level.level: level.title for level in source.design.levels}
    parts_ = []
    for contrast in source.design.contrasts:
        held = [
            row for row in changes
            if row["contrast"] == contrast.contrast and row["metric"] == metrics[0]
        ]  # fmt: skip
        if held:
            parts_.append(f"{names[contrast.to_level]}: {_clause(held, source.delta)}")
    return "; ".join(parts_) or "no two levels compared"


def _clause(rows: Sequence[Row], delta: float) -> str:
    if all(row["no_verdict"] is not None for row in rows):
        return "no verdict"
    if all(row["size"] == "immaterial" for row in rows):
        return f"every change within ±{delta:g} %" if len(rows) > 1 else f"within ±{delta:g} %"
    found = [_number(rows, direction, delta) for direction in ("loss", "gain")]
    open_ones = sum(row["size"] not in {"immaterial", "material"} for row in rows)
    what = " and ".join(part for part in found if part)
    what = what or f"no change of more than {delta:g} % shown"
    return f"{what}, {open_ones} of {len(rows)} not settled" if open_ones else what


def _number(rows: Sequence[Row], direction: str, delta: float) -> str:
    number = sum(row["size"] == "material" and row["direction"] == direction for row in rows)
    if not number:
        return ""
    where = f"{number} of {len(rows)} rigs" if len(rows) > 1 else rows[0]["rig"]
    return f"{direction} of more than {delta:g} % on {where}"


def _draw(
    sheet: Sheet, source: Source, what: tuple[Sequence[Row], Sequence[str], Sequence[str]]
) -> None:
    rows, levels, metrics = what
    rigs = parts.rigs_of(rows)
    names = {level.level: level.title for level in source.design.levels}
    labels = [f"{level}: {names[level]}" for level in levels]
    parts.key(sheet.canvas, MARGIN, sheet.top + 16, parts.series_key(labels))
    place = _Rows(rigs, levels, sheet.top + 84, sheet.bottom - 34)
    for number, rig in enumerate(rigs):
        rig.draw(sheet.canvas, MARGIN, place.middle(number), place.step, "left")
    width = (WIDTH - 2 * MARGIN - _LABELS) / len(metrics)
    for number, metric in enumerate(metrics):
        held = [row for row in rows if row["metric"] == metric]
        left = MARGIN + _LABELS + _LEVEL + width * number
        end = MARGIN + _LABELS + width * (number + 1) - _GAP - _NUMBER
        top = max([1e-9, *(row["high_95"] or row["geometric_mean"] for row in held)])
        step = round_step(top / 12)
        scale = Scale(0, step * (int(top / step) + 1), left, end)
        heading = f"{source.metric_name(metric)}, {held[0]['unit']}" if held else metric
        sheet.canvas.text(left, sheet.top + 60, heading, size=LABEL, bold=True)
        _panel(sheet, held, place, scale)


def _panel(sheet: Sheet, held: Sequence[Row], place: _Rows, scale: Scale) -> None:
    canvas = sheet.canvas
    for value in scale.ticks(6):
        x = scale.at(value)
        canvas.rule(x, place.top, x, place.bottom, "line" if value else "soft")
        text = f"{value:g}"
        canvas.text(x, place.bottom + 18, text, size=SMALL, align="center", colour="soft")
    for number, rig in enumerate(place.rigs):
        if number:
            y = place.middle(number) - place.step / 2
            canvas.rule(scale.start - _LEVEL, y, scale.end + _NUMBER, y)
        for row in (row for row in held if row["rig"] == rig.rig):
            _mark(sheet, row, place.y(number, row["level"]), place, scale)


def _mark(sheet: Sheet, row: Row, y: float, place: _Rows, scale: Scale) -> None:
    canvas, number = sheet.canvas, place.levels.index(row["level"])
    colour = f"series-{number}"
    value, label = row["geometric_mean"], plain_number(row["geometric_mean"])
    x, last = scale.at(value), scale.at(value)
    size = min(SMALL, place.step / len(place.levels) * 0.82)
    canvas.rule(scale.start, y, x, y, colour, width=1.5)
    if row["low_95"] is not None:
        first, last = scale.at(row["low_95"]), scale.at(row["high_95"])
        canvas.rule(first, y, last, y, colour, width=5)
    canvas.text(
        scale.start - 10, y, elided(row["level"], 6), size=size, align="right", colour="soft"
    )
    canvas.text(max(last, x + 9) + 9, y, label, size=size)
    ends = f"{plain_number(row['low_95'])} to {plain_number(row['high_95'])}"
    says = f"{row['rig']}, {row['level']}, {row['metric']}: {label} {row['unit']} ({ends})"
    canvas.point(x, y, shape(number), colour, size=95, says=says)
