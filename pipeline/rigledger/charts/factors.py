"""On what the change depends: for a title, the change over platforms, a line per card."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import groupby, pairwise
from typing import TYPE_CHECKING, Any

from rigledger.charts import parts
from rigledger.charts.headline import counts, headline_of_title, listed, shown_to_depend
from rigledger.charts.intervals import COLUMNS, ENDS
from rigledger.charts.look import LABEL, MARGIN, SMALL, WIDTH, shape
from rigledger.charts.picture import Picture, elided, new_sheet
from rigledger.charts.scale import change_scale
from rigledger.page.words import signed_pct

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.charts.picture import Sheet
    from rigledger.charts.scale import Scale
    from rigledger.charts.source import Source

    Row = dict[str, Any]

FACTORS = {"platform": "platform", "card": "card", "platform_card": "platform × card"}
_LABELS, _GAP, _DODGE, _CLEAR = 84, 34, 44, 15


@dataclass(frozen=True)
class _Panel:
    """One resolution: where it lies and what stands on its axes."""

    scale: Scale
    left: float
    right: float
    platforms: Sequence[str]
    series: Sequence[str]

    def x(self, platform: str, name: str) -> float:
        step = (self.right - self.left) / len(self.platforms)
        dodge = min(_DODGE, step / (len(self.series) + 1))
        offset = self.series.index(name) - (len(self.series) - 1) / 2
        return self.left + step * (self.platforms.index(platform) + 0.5) + dodge * offset


def factor_pictures(source: Source) -> Iterator[Picture]:
    """Draw the change by platform and card, per title, contrast and metric with two or more."""
    tests = source.rows("depends")
    keys = ("contrast", "metric", "workload")
    for group, found in groupby(source.rows("changes"), lambda row: tuple(row[k] for k in keys)):
        about = [test for test in tests if tuple(test[key] for key in keys) == group]
        rows = list(found)
        if len({(row["platform"], row["card"]) for row in rows}) > 1:
            yield _picture(source, group, rows, about)


def _picture(
    source: Source, group: tuple[str, ...], rows: Sequence[Row], tests: Sequence[Row]
) -> Picture:
    contrast, metric, workload = group
    title = headline_of_title(rows, tests, source.delta)
    what = f"Change of the {source.metric_name(metric)}, {source.contrast_name(contrast)}"
    count, why = counts(rows, source.delta), dependence(tests)
    foot = (
        "Uprights are 95 % intervals, an arrowhead where one runs off the scale. Filled: a change "
        "beyond the band is shown; hollow: it is not; grey: no verdict. "
        f"The band is ±{source.delta:g} %, the study's material change. Study: "
        f"{source.design.study}; tables comparisons, factor_effects."
    )
    sheet = new_sheet(title, [f"{what}. {count}", why], foot)
    _draw(sheet, rows, source.delta)
    alt = (
        f"{title}. {what}: a panel per resolution, platforms across, a line per card. {count} {why}"
    )
    return Picture(
        f"factors.{contrast}.{metric}.{workload}", title, alt, sheet.canvas, COLUMNS, rows
    )


def dependence(tests: Sequence[Row]) -> str:
    """Say what the tests of one title, contrast and metric found the change to depend on."""
    if not tests:
        return "What the change depends on could not be tested: the rigs form no full cross."
    found = []
    for factor, words in FACTORS.items():
        held = [
            test["resolution"]
            for test in tests
            if test["factor"] == factor and shown_to_depend(test)
        ]
        if held:
            found.append(f"{words} at {listed(sorted(set(held), key=parts.pixels))}")
    tested = [
        words for factor, words in FACTORS.items() if any(t["factor"] == factor for t in tests)
    ]
    if not found:
        return f"Not shown to depend on {listed(tested, 'or')}."
    return f"Shown to depend on {'; on '.join(found)}."


def _series(rows: Sequence[Row]) -> list[str]:
    """Name the lines: cards, with the contributor where there are several."""
    return list(dict.fromkeys(_name(row, rows) for row in sorted(rows, key=_order)))


def _order(row: Row) -> tuple[str, str]:
    return row["contributor"], row["card_model"]


def _name(row: Row, rows: Sequence[Row]) -> str:
    several = len({other["contributor"] for other in rows}) > 1
    return f"{row['card_model']} ({row['contributor']})" if several else str(row["card_model"])


def _draw(sheet: Sheet, rows: Sequence[Row], delta: float) -> None:
    resolutions, series = parts.resolutions_of(rows), _series(rows)
    platforms = sorted({row["platform"] for row in rows})
    parts.key(sheet.canvas, MARGIN, sheet.top + 16, parts.series_key(series))
    changes = [row["change_pct"] for row in rows]
    ends = [row[end] for row in rows for end in ENDS if row[end] is not None]
    top, bottom = sheet.top + 104, sheet.bottom - 58
    scale = change_scale(changes, ends, delta, bottom, top, beyond=1)
    width = (WIDTH - 2 * MARGIN - _LABELS) / len(resolutions)
    for value in scale.ticks(8):
        text = f"{parts.tick_text(value)} %"
        sheet.canvas.text(
            MARGIN + _LABELS - 12, scale.at(value), text, size=SMALL, align="right", colour="soft"
        )
    for number, resolution in enumerate(resolutions):
        left = MARGIN + _LABELS + width * number
        panel = _Panel(scale, left, left + width - _GAP, platforms, series)
        _axes(sheet, panel, resolution, delta)
        held = [row for row in rows if row["resolution"] == resolution]
        _marks(sheet, panel, held, rows)


def _axes(sheet: Sheet, panel: _Panel, resolution: str, delta: float) -> None:
    canvas, scale = sheet.canvas, panel.scale
    canvas.text(panel.left, scale.end - 44, resolution, size=LABEL, bold=True)
    canvas.rect(panel.left, scale.at(delta), panel.right, scale.at(-delta), "band")
    for value in scale.ticks(8):
        zero = abs(value) < 1e-9
        y = scale.at(value)
        canvas.rule(
            panel.left, y, panel.right, y, "soft" if zero else "line", width=2 if zero else 1
        )
    step = (panel.right - panel.left) / len(panel.platforms)
    for number, platform in enumerate(panel.platforms):
        x = panel.left + step * (number + 0.5)
        label = elided(platform, max(3, int(step / 12)))
        canvas.text(x, scale.start + 46, label, size=LABEL, align="center")


def _marks(sheet: Sheet, panel: _Panel, held: Sequence[Row], rows: Sequence[Row]) -> None:
    for number, name in enumerate(panel.series):
        line = [row for row in held if _name(row, rows) == name]
        places = [
            (panel.x(row["platform"], name), panel.scale.at(row["change_pct"])) for row in line
        ]
        for one, other in pairwise(places):
            sheet.canvas.rule(*one, *other, f"series-{number}", width=1.5)
        for row, (x, y) in zip(line, places, strict=True):
            _mark(sheet, panel.scale, row, (x, y), number)
    for platform in panel.platforms:
        _values(sheet, panel, [row for row in held if row["platform"] == platform], rows)


def _mark(sheet: Sheet, scale: Scale, row: Row, place: tuple[float, float], number: int) -> None:
    x, y = place
    colour = f"series-{number}" if row["no_verdict"] is None else "soft"
    if row["low_95_pct"] is not None:
        parts.upright(sheet.canvas, scale, x, (row["low_95_pct"], row["high_95_pct"]), colour)
    sheet.canvas.point(
        x, y, shape(number), colour, filled=row["size"] == "material", size=200,
        says=parts.change_says(row),
    )  # fmt: skip


def _clear_of(line: float, y: float, away: float) -> float:
    """Move a number on where the zero line would strike it through."""
    return y if abs(y - line) > _CLEAR else line + math.copysign(_CLEAR, away)


def _values(sheet: Sheet, panel: _Panel, held: Sequence[Row], rows: Sequence[Row]) -> None:
    """Write the greatest change of a platform above its interval and the least below."""
    order = sorted(held, key=lambda row: row["change_pct"])
    for row, end, away in (
        ((order[0], "low_95_pct", 16), (order[-1], "high_95_pct", -16)) if order else ()
    ):
        if row is order[-1] and away > 0:
            continue
        bound = row[end] if row[end] is not None else row["change_pct"]
        y = _clear_of(panel.scale.at(0.0), panel.scale.at(bound) + away, away)
        text = signed_pct(row["change_pct"]).removesuffix(" %")
        x = panel.x(row["platform"], _name(row, rows))
        sheet.canvas.text(x, y, text, size=SMALL, align="center", apart=True)
