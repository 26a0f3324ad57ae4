"""Parts that several pictures share: axes, intervals, keys, and the order of rigs."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.charts.look import LABEL, SMALL, shape
from rigledger.charts.picture import elided
from rigledger.page.words import signed_pct, verdict

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rigledger.charts.canvas import Canvas
    from rigledger.charts.scale import Scale

    Row = dict[str, Any]


_LABEL_CHARS = 27


@dataclass(frozen=True, slots=True)
class Rig:
    """A rig as a picture labels it."""

    rig: str
    platform: str
    card: str

    def draw(self, canvas: Canvas, x: float, y: float, room: float, align: str = "right") -> None:
        """Write platform and card beside a row, on two lines where they need and have them."""
        label = f"{self.platform}  {self.card}"
        if len(label) > _LABEL_CHARS and room > 56:
            names = (self.platform, self.card)
            for name, at in zip(names, (y - 14, y + 14), strict=True):
                canvas.text(x, at, elided(name, _LABEL_CHARS), size=SMALL + 1, align=align)
        else:
            canvas.text(x, y, elided(label, _LABEL_CHARS), size=SMALL + 1, align=align)


def rigs_of(rows: Sequence[Row]) -> list[Rig]:
    """List the rigs of some rows, by platform and card, with the label of each.

    A contributor is named where two rigs have the same platform and card.
    """
    found = {row["rig"]: row for row in rows}
    order = sorted(found.values(), key=lambda row: (row["platform"], row["card_model"], row["rig"]))
    hardware = [(row["platform"], row["card_model"]) for row in order]
    return [
        Rig(row["rig"], row["platform"], _card(row, twin=hardware.count(pair) > 1))
        for row, pair in zip(order, hardware, strict=True)
    ]


def _card(row: Row, *, twin: bool) -> str:
    return f"{row['card_model']} ({row['contributor']})" if twin else str(row["card_model"])


def resolutions_of(rows: Iterable[Row]) -> list[str]:
    """List the resolutions of some rows, fewest pixels first."""
    return sorted({row["resolution"] for row in rows}, key=pixels)


def pixels(resolution: str) -> int:
    """Count the pixels of a resolution."""
    width, height = resolution.split("x")
    return int(width) * int(height)


def tick_text(value: float) -> str:
    """Write a tick of a change axis."""
    return f"{value:+g}".replace("-", "\u2212") if abs(value) > 1e-9 else "0"


def change_axis(
    canvas: Canvas, scale: Scale, top: float, bottom: float, delta: float, *, ticks: int = 5
) -> None:
    """Draw an upright panel for changes: the ±δ band, grid, zero line, ticks in per cent."""
    canvas.rect(scale.at(-delta), top, scale.at(delta), bottom, "band")
    for value in scale.ticks(ticks):
        x = scale.at(value)
        zero = abs(value) < 1e-9
        canvas.rule(x, top, x, bottom, "soft" if zero else "line", width=2 if zero else 1)
        canvas.text(
            x, bottom + 18, f"{tick_text(value)} %", size=SMALL, align="center", colour="soft"
        )


def interval(
    canvas: Canvas, scale: Scale, y: float, ends: tuple[float, float], colour: str, *, width: float
) -> None:
    """Draw an interval along a row; an arrowhead where it runs off the scale."""
    low, high = ends
    first, last = scale.at(low), scale.at(high)
    canvas.rule(first, y, last, y, colour, width=width)
    for x, end, way in ((first, low, 1), (last, high, -1)):
        if not scale.holds(end):
            canvas.rule(x, y, x + 8 * way, y - 6, colour, width=width)
            canvas.rule(x, y, x + 8 * way, y + 6, colour, width=width)


def upright(canvas: Canvas, scale: Scale, x: float, ends: tuple[float, float], colour: str) -> None:
    """Draw an interval upright; an arrowhead where it runs off the scale."""
    low, high = ends
    first, last = scale.at(low), scale.at(high)
    canvas.rule(x, first, x, last, colour, width=3)
    for y, end, way in ((first, low, -1), (last, high, 1)):
        if not scale.holds(end):
            canvas.rule(x, y, x - 6, y + 9 * way, colour, width=3)
            canvas.rule(x, y, x + 6, y + 9 * way, colour, width=3)


def key(canvas: Canvas, x: float, y: float, entries: Sequence[tuple[str, str, bool, str]]) -> float:
    """Draw a key on one line.

    Args:
        canvas: Where.
        x: Left end.
        y: Middle.
        entries: Shape, colour, filled, label of each.

    Returns:
        Its right end, about.
    """
    for name, colour, filled, label in entries:
        canvas.point(x + 8, y, name, colour, filled=filled)
        canvas.text(x + 26, y, label, size=LABEL)
        x += 26 + 11.6 * len(label) + 34
    return x


def series_key(names: Sequence[str]) -> list[tuple[str, str, bool, str]]:
    """Give the entries of a key of series: each with its shape and colour."""
    return [(shape(number), f"series-{number}", True, name) for number, name in enumerate(names)]


def change_says(row: Row) -> str:
    """Say a comparison as a screen reader should: what, where, how much, which verdict."""
    words = verdict(row["direction"], row["size"], row["no_verdict"])
    return (
        f"{row['title']}, {row['resolution']}, {row['rig']}: {signed_pct(row['change_pct'])} "
        f"({interval_text(row['low_95_pct'], row['high_95_pct'])}), {words}"
    )


def interval_text(low: float | None, high: float | None) -> str:
    """Write the ends of an interval."""
    return f"{signed_pct(low).removesuffix(' %')} to {signed_pct(high)}"


def chunks(items: Sequence[Any], most: int) -> list[Sequence[Any]]:
    """Split a list into pages of about equal length, none longer than ``most``."""
    pages = -(-len(items) // most) or 1
    size = -(-len(items) // pages) or 1
    return [items[start : start + size] for start in range(0, len(items), size)]


def page_suffix(number: int, pages: int) -> str:
    """Give the end of a file name for one of several pages."""
    return f".{number}" if pages > 1 else ""
