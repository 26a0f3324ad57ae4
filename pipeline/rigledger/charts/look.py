"""The look of all charts: paper, ink and a few series, in light and in dark.

Meaning never rests on colour: a series has a shape and a label of its own, a verdict is filled or
hollow. Text has a contrast of at least 4.5 : 1 and marks of 3 : 1 with the paper (WCAG 2.2, 1.4.3
and 1.4.11).
"""

from __future__ import annotations

from dataclasses import dataclass

WIDTH, HEIGHT = 1920, 1080
MARGIN = 64
# Bundled with the renderer; the others have the same widths, for readers of the SVG.
FONT = "Liberation Sans, Arial, Helvetica, sans-serif"
TITLE, LONG_TITLE, SUBTITLE, LABEL, SMALL = 44, 34, 26, 23, 20

SHAPES = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross")


@dataclass(frozen=True, slots=True)
class Look:
    """Colours by the part they play.

    Attributes:
        name: ``light`` or ``dark``.
        paper: Background.
        ink: Titles, labels, what was found.
        soft: Secondary text, and what was not.
        line: Grid and rules.
        band: The band within the material change.
        series: Colours of series, in order; told apart by people with any colour vision.
    """

    name: str
    paper: str
    ink: str
    soft: str
    line: str
    band: str
    series: tuple[str, ...]

    def colour(self, part: str) -> str:
        """Give the colour of a part: ``ink``, ``soft``, ..., or ``series-0`` and on."""
        if part.startswith("series-"):
            return self.series[int(part.removeprefix("series-")) % len(self.series)]
        return str(getattr(self, part))


LIGHT = Look(
    "light", "#fdfcf9", "#22262b", "#5b646e", "#d9d5cb", "#ece7da",
    ("#1f7a94", "#b06a12", "#4a1f4d", "#3a3f45", "#8c2f39", "#4d7a2c"),
)  # fmt: skip
DARK = Look(
    "dark", "#16191d", "#e6e3dc", "#a3abb3", "#3a4047", "#262c33",
    ("#6fb7d0", "#d99a3d", "#f3e4f4", "#d8d6d0", "#ee8f97", "#a8cf84"),
)  # fmt: skip
LOOKS = {held.name: held for held in (LIGHT, DARK)}


def shape(index: int) -> str:
    """Give the shape of a series."""
    return SHAPES[index % len(SHAPES)]
