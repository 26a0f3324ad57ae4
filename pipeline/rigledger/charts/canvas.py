"""A canvas of 1920 x 1080 pixels on which a picture is composed, drawn by altair as one chart."""

from __future__ import annotations

import json
from collections import defaultdict
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from rigledger.charts.look import FONT, HEIGHT, LABEL, WIDTH

if TYPE_CHECKING:
    from rigledger.charts.look import Look

_EDGE = 6


@dataclass
class Canvas:
    """What is to be drawn, in pixels from the upper left; colours are parts of a look."""

    rects: list[dict[str, Any]] = field(default_factory=list)
    rules: list[dict[str, Any]] = field(default_factory=list)
    points: list[dict[str, Any]] = field(default_factory=list)
    texts: list[dict[str, Any]] = field(default_factory=list)

    def rect(self, x: float, y: float, x2: float, y2: float, fill: str) -> None:
        """Add a filled rectangle, under everything else."""
        self.rects.append({"x": x, "y": y, "x2": x2, "y2": y2, "fill": fill})

    def rule(
        self, x: float, y: float, x2: float, y2: float, colour: str = "line", *, width: float = 1
    ) -> None:
        """Add a straight line."""
        line = {"x": x, "y": y, "x2": x2, "y2": y2, "colour": colour, "width": width}
        self.rules.append(line)

    def point(
        self,
        x: float,
        y: float,
        shape: str,
        colour: str,
        *,
        filled: bool = True,
        size: float = 150,
        says: str | None = None,
    ) -> None:
        """Add a mark.

        Args:
            x: Its middle.
            y: Its middle.
            shape: One of the renderer's shapes.
            colour: Colour of its edge and, if filled, of its inside.
            filled: A hollow one shows the paper.
            size: Area in square pixels.
            says: What it stands for, read out by screen readers; None for a mark of a key.
        """
        fill = colour if filled else "paper"
        mark = {"x": x, "y": y, "shape": shape, "colour": colour, "fill": fill, "size": size}
        self.points.append(mark | {"says": says or ""})

    def text(
        self,
        x: float,
        y: float,
        text: str,
        *,
        size: float = LABEL,
        align: str = "left",
        colour: str = "ink",
        bold: bool = False,
        apart: bool = False,
    ) -> None:
        """Add a line of text; ``y`` is the middle of its height.

        With ``apart`` an edge of paper parts it from a line that runs through it.
        """
        self.texts.append(
            {
                "x": x, "y": y, "text": text, "size": size, "colour": colour, "apart": apart,
                "style": (align, "bold" if bold else "normal"),
            }
        )  # fmt: skip

    def digest(self, look: Look) -> str:
        """Give a text that two canvases share exactly if they are drawn alike; cheap to make."""
        parts = (self.rects, self.rules, self.points, self.texts)
        items = [[_coloured(item, look) for item in part] for part in parts]
        styles = [item["style"] for item in self.texts]
        return json.dumps([look.paper, FONT, items, styles], ensure_ascii=False)

    def spec(self, look: Look) -> str:
        """Give the chart as JSON of the renderer's grammar, the same text for the same canvas."""
        import altair as alt
        from altair.utils.schemapi import debug_mode

        data = _Data(look)
        # What is drawn is always of the same make, which a test holds against the grammar.
        with debug_mode(False):
            layers = [*self._shapes(alt, data), *self._texts(alt, data)]
            chart = (
                alt.layer(*layers)
                .properties(width=WIDTH, height=HEIGHT, padding=0, autosize="none")
                .configure(background=look.paper, font=FONT)
                .configure_view(stroke=None)
            )
            held = chart.to_dict()
        return json.dumps(held | {"datasets": data.sets}, sort_keys=True)

    def _shapes(self, alt: Any, data: _Data) -> list[Any]:  # noqa: ANN401 - the library's module
        pixel = _pixels(alt)
        ends = {"x2": alt.X2("x2:Q"), "y2": alt.Y2("y2:Q")}
        rects = data.chart(alt, self.rects).mark_rect(aria=False)
        rules = data.chart(alt, self.rules).mark_rule(aria=False, strokeCap="butt")
        points = data.chart(alt, self.points).mark_point(opacity=1, strokeWidth=2.5)
        line = {
            "color": alt.Color("colour:N", scale=None, legend=None),
            "strokeWidth": alt.StrokeWidth("width:Q", scale=None, legend=None),
        }
        mark = {
            "stroke": alt.Stroke("colour:N", scale=None, legend=None),
            "fill": alt.Fill("fill:N", scale=None, legend=None),
            "shape": alt.Shape("shape:N", scale=None, legend=None),
            "size": alt.Size("size:Q", scale=None, legend=None),
            "description": alt.Description("says:N"),
        }
        fill = {"color": alt.Color("fill:N", scale=None, legend=None)}
        drawn = []
        if self.rects:
            drawn.append(rects.encode(**pixel, **ends, **fill))
        if self.rules:
            drawn.append(rules.encode(**pixel, **ends, **line))
        if self.points:
            drawn.append(points.encode(**pixel, **mark))
        return drawn

    def _texts(self, alt: Any, data: _Data) -> list[Any]:  # noqa: ANN401 - the library's module
        groups = defaultdict(list)
        for item in self.texts:
            groups[item["style"]].append(item)
        edge: dict[str, str | float] = {
            "stroke": data.look.paper,
            "strokeWidth": _EDGE,
            "strokeJoin": "round",
        }
        drawn = []
        for style in sorted(groups):
            if apart := [item for item in groups[style] if item["apart"]]:
                drawn.append(_text_layer(alt, apart, style, data, **edge))
            drawn.append(_text_layer(alt, groups[style], style, data))
        return drawn


def _text_layer(
    alt: Any,  # noqa: ANN401 - the library's module
    items: list[dict[str, Any]],
    style: tuple[str, str],
    data: _Data,
    **more: str | float,
) -> Any:  # noqa: ANN401 - the library's chart
    align, weight = style
    return (
        data.chart(alt, items)
        .mark_text(align=align, fontWeight=weight, baseline="middle", aria=False, **more)
        .encode(
            **_pixels(alt),
            text=alt.Text("text:N"),
            size=alt.Size("size:Q", scale=None, legend=None),
            color=alt.Color("colour:N", scale=None, legend=None),
        )
    )


def _pixels(alt: Any) -> dict[str, Any]:  # noqa: ANN401 - the library's module
    return {
        "x": alt.X("x:Q", scale=None, axis=None),
        "y": alt.Y("y:Q", scale=None, axis=None),
    }


@dataclass
class _Data:
    """What the layers of a chart draw, in sets by name: layers are copied often, data need not."""

    look: Look
    sets: dict[str, list[dict[str, Any]]] = field(default_factory=dict)

    def chart(self, alt: Any, items: list[dict[str, Any]]) -> Any:  # noqa: ANN401
        """Give an unmarked chart of some items."""
        name = f"part-{len(self.sets)}"
        self.sets[name] = [_coloured(item, self.look) for item in items]
        return alt.Chart(alt.NamedData(name=name))


def _coloured(item: dict[str, Any], look: Look) -> dict[str, Any]:
    plain = {key: value for key, value in item.items() if key != "style"}
    colours = {key: look.colour(plain[key]) for key in ("colour", "fill") if key in plain}
    return plain | colours
