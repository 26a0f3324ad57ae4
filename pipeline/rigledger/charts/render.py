"""Renders a chart's specification to SVG and PNG: offline, with the renderer's own fonts."""

from __future__ import annotations

from xml.sax.saxutils import escape

from rigledger.charts.look import FONT


def renderer() -> str:
    """Name the renderer and its version: other versions may draw other bytes."""
    from importlib.metadata import version

    return f"vl-convert {version('vl-convert-python')}"


def to_svg(spec: str, title: str, alt_text: str) -> str:
    """Render to SVG.

    Args:
        spec: The chart, as of ``Canvas.spec``.
        title: Name of the picture, for ``<title>``.
        alt_text: What it shows, for ``<desc>``.
    """
    import vl_convert

    svg: str = vl_convert.vegalite_to_svg(spec, allowed_base_urls=[])
    opening, rest = svg.split(">", 1)
    words = f'<title id="title">{escape(title)}</title><desc id="desc">{escape(alt_text)}</desc>'
    return f'{opening} role="graphics-document" aria-labelledby="title desc">{words}{rest}\n'


def to_png(svg: str) -> bytes:
    """Render an SVG of 1920 x 1080 to a PNG of as many pixels."""
    import vl_convert

    # Only the bundled font, lest another one of the machine be drawn.
    png: bytes = vl_convert.svg_to_png(svg.replace(FONT, FONT.split(",", maxsplit=1)[0]))
    return png
