"""The runs of a doubtful cell, or of any named one, in the order in which they were made."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Any

from rigledger.charts import parts
from rigledger.charts.headline import listed
from rigledger.charts.look import LABEL, MARGIN, SMALL, WIDTH, shape
from rigledger.charts.numbers import Column
from rigledger.charts.picture import Picture, elided, new_sheet
from rigledger.charts.scale import Scale, round_step
from rigledger.counting import counted
from rigledger.page.words import plain_number

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rigledger.charts.picture import Sheet
    from rigledger.charts.source import Source

    Row = dict[str, Any]

COLUMNS = (
    Column("run", "Run"), Column("session", "Session"), Column("round", "Round", "count"),
    Column("started_on", "Day"), Column("level", "Level"), Column("pass", "Pass", "count"),
    Column("position", "Position", "count"), Column("value", "Value", "value"),
    Column("unit", "Unit"), Column("doubtful", "Doubtful"),
)  # fmt: skip
FOOT = (
    "A ring marks a doubtful run: its residual is too large for the cell's moderated spread at the "
    "study's false-alarm rate. It is flagged, never dropped. Shading separates sessions; the axis "
    "doesn't start at zero. "
)
_LABELS, _RUNS, _MOST = 100, 60, 12


def run_order_pictures(source: Source) -> Iterator[Picture]:
    """Draw the cells with doubtful runs, up to 12 a metric, or the widest; or the named ones."""
    for cell in _cells(source):
        values = {key: cell[key] for key in ("rig", "workload", "resolution")}
        rows = [_row(source, row, cell["metric"]) for row in source.rows("runs", values)]
        held = [row for row in rows if row["value"] is not None]
        pages = parts.chunks(held, _RUNS) if held else []
        for number, page in enumerate(pages, 1):
            name = ".".join(
                ("runs", cell["workload"], cell["resolution"], cell["rig"], cell["metric"])
            )
            name += parts.page_suffix(number, len(pages))
            yield _picture(source, name, page, cell)


def _cells(source: Source) -> list[Row]:
    metrics = [m for m in source.design.all_metrics if source.choice.metric in {None, m}]
    if source.choice.cells:
        return [
            {"rig": rig, "workload": workload, "resolution": resolution, "metric": metric}
            for rig, workload, resolution in source.choice.cells
            for metric in metrics
        ]
    held = source.rows("places")
    return [cell for metric in metrics for cell in _doubtful(held, metric)]


def _doubtful(rows: Sequence[Row], metric: str) -> Sequence[Row]:
    """Pick a metric's cells with most doubtful runs; its widest where it has none."""
    held = [row for row in rows if row["metric"] == metric]
    return [row for row in held if row["doubtful"]][:_MOST] or held[:1]


def _row(source: Source, row: Row, metric: str) -> Row:
    doubtful = metric in (row["doubtful_in"] or "").split()
    unit = source.contract.metrics[metric].unit
    return row | {
        "value": row.get(metric), "unit": unit, "doubtful": "yes" if doubtful else "no",
        "metric": metric,
    }  # fmt: skip


def _picture(source: Source, name: str, rows: Sequence[Row], cell: Row) -> Picture:
    place = f"{rows[0]['title']} at {cell['resolution']} on {cell['rig']}"
    title = _title(rows, place)
    sessions = counted(len({row["session"] for row in rows}), "session")
    what = (
        f"{source.metric_name(cell['metric'])[0].upper()}{source.metric_name(cell['metric'])[1:]} "
        f"of {counted(len(rows), 'run')} in the order in which they were made, {sessions}."
    )
    sheet = new_sheet(title, [what], FOOT + f"Study: {source.design.study}; table runs_wide.")
    _draw(sheet, source, rows)
    return Picture(name, title, f"{title}. {what}", sheet.canvas, COLUMNS, rows)


def _title(rows: Sequence[Row], place: str) -> str:
    doubtful = [row for row in rows if row["doubtful"] == "yes"]
    if not doubtful:
        return f"{place}: no run is flagged as doubtful"
    if len(doubtful) > 3:
        return f"{place}: {len(doubtful)} of {len(rows)} runs are doubtful"
    values = listed([f"{plain_number(row['value'])} {row['unit']}" for row in doubtful])
    stand = "one run stands" if len(doubtful) == 1 else f"{len(doubtful)} runs stand"
    return f"{place}: {stand} apart ({values})"


def _draw(sheet: Sheet, source: Source, rows: Sequence[Row]) -> None:
    names = {level.level: level.title for level in source.design.levels}
    levels = [level.level for level in source.design.ranked_levels]
    used = [level for level in levels if any(row["level"] == level for row in rows)]
    entries = [
        (shape(levels.index(level)), f"series-{levels.index(level)}", True,
         f"{level}: {names[level]}")
        for level in used
    ]  # fmt: skip
    parts.key(sheet.canvas, MARGIN, sheet.top + 16, entries)
    top, bottom = sheet.top + 84, sheet.bottom - 10
    scale = _scale([row["value"] for row in rows], top, bottom)
    left, right = MARGIN + _LABELS, WIDTH - MARGIN
    step = (right - left) / len(rows)
    _bands(sheet, rows, (left, step), (top, bottom))
    for value in scale.ticks(8):
        y = scale.at(value)
        sheet.canvas.rule(left, y, right, y)
        sheet.canvas.text(left - 12, y, f"{value:g}", size=SMALL, align="right", colour="soft")
    for number, row in enumerate(rows):
        _mark(sheet, row, (left + step * (number + 0.5), scale.at(row["value"])), levels)


def _scale(values: Sequence[float], top: float, bottom: float) -> Scale:
    low, high = min(values), max(values)
    room = max(high - low, 0.005 * abs(high), 1e-9)
    step = round_step(room / 10)
    return Scale(step * ((low - 0.12 * room) // step), high + 0.15 * room, bottom, top)


def _bands(
    sheet: Sheet, rows: Sequence[Row], across: tuple[float, float], down: tuple[float, float]
) -> None:
    (left, step), (top, bottom) = across, down
    start = 0
    for number, (_, found) in enumerate(groupby(rows, lambda row: row["session"])):
        count = len(list(found))
        x, x2 = left + step * start, left + step * (start + count)
        if number % 2 == 0:
            sheet.canvas.rect(x, top, x2, bottom, "band")
        label = f"boot {rows[start]['boot']}"
        if (x2 - x) / 11.5 > len(label):
            sheet.canvas.text(x + 8, top - 18, label, size=SMALL, colour="soft")
        start += count


def _mark(sheet: Sheet, row: Row, place: tuple[float, float], levels: Sequence[str]) -> None:
    x, y = place
    number = levels.index(row["level"])
    label = f"{plain_number(row['value'])} {row['unit']}"
    flag = ", doubtful" if row["doubtful"] == "yes" else ""
    if flag:
        sheet.canvas.point(x, y, "circle", "ink", filled=False, size=1100)
        right = x < WIDTH / 2
        text = f"{elided(row['run'].rsplit('.', 1)[-1], 12)}: {label}"
        at = (x + 26, "left") if right else (x - 26, "right")
        sheet.canvas.text(at[0], y, text, size=LABEL, align=at[1], bold=True)
    sheet.canvas.point(
        x, y, shape(number), f"series-{number}", size=190,
        says=f"{row['run']}, {row['level']}: {label}{flag}",
    )  # fmt: skip
