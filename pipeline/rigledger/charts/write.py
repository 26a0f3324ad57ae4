"""Writes the pictures of a study: SVG, PNG, alternative text, and the numbers to paste."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING, Any

from rigledger.charts import numbers
from rigledger.charts.factors import factor_pictures
from rigledger.charts.intervals import interval_pictures
from rigledger.charts.look import LOOKS
from rigledger.charts.overall import overall_pictures
from rigledger.charts.rates import rate_pictures
from rigledger.charts.render import renderer, to_png, to_svg
from rigledger.charts.resolutions import resolution_pictures
from rigledger.charts.run_order import run_order_pictures
from rigledger.charts.spread import spread_pictures
from rigledger.files import sha256_of, write_bytes, write_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from rigledger.charts.look import Look
    from rigledger.charts.picture import Picture
    from rigledger.charts.source import Source

LIST = "charts.json"
KINDS = {
    "intervals": interval_pictures, "overall": overall_pictures,
    "resolutions": resolution_pictures, "factors": factor_pictures, "rates": rate_pictures,
    "spread": spread_pictures, "runs": run_order_pictures,
}  # fmt: skip


def pictures(source: Source, kinds: Sequence[str] = tuple(KINDS)) -> Iterator[Picture]:
    """Compose the pictures of a study, none rendered yet."""
    for kind in kinds:
        yield from KINDS[kind](source)


def write_charts(
    source: Source,
    out: Path,
    *,
    looks: Sequence[str] = ("light",),
    kinds: Sequence[str] = tuple(KINDS),
) -> list[Path]:
    """Draw all pictures of a study into a folder.

    Each file is written beside and renamed; ``charts.json`` comes last and lists them with their
    hashes. A picture whose specification and file are those of the list is not rendered again.

    Args:
        source: The tables, and what of them is drawn.
        out: Folder to write to; other files in it stay.
        looks: ``light``, ``dark`` or both.
        kinds: Kinds of pictures, keys of `KINDS`.

    Returns:
        The files, ``charts.json`` included, in the order of the pictures.
    """
    before = _before(out)
    listed = [_write(picture, out, looks, before) for picture in list(pictures(source, kinds))]
    text = json.dumps({"renderer": renderer(), "pictures": listed}, indent=2, ensure_ascii=False)
    write_text(out / LIST, text + "\n")
    return [*(out / file["file"] for held in listed for file in held["files"]), out / LIST]


def _before(out: Path) -> dict[str, dict[str, Any]]:
    """Give the files of an earlier list by name; none where it is of another renderer."""
    path = out / LIST
    if not path.is_file():
        return {}
    try:
        held = json.loads(path.read_text(encoding="utf-8"))
        if held["renderer"] != renderer():
            return {}
        return {file["file"]: file for made in held["pictures"] for file in made["files"]}
    except (ValueError, KeyError, TypeError):
        return {}


def _write(
    picture: Picture, out: Path, looks: Sequence[str], before: dict[str, dict[str, Any]]
) -> dict[str, Any]:
    texts = {
        "alt.txt": picture.alt + "\n",
        "md": numbers.as_markdown(picture.title, picture.columns, picture.rows),
        "html": numbers.as_html(picture.title, picture.columns, picture.rows),
        "csv": numbers.as_csv(picture.columns, picture.rows),
    }
    files = [item for look in looks for item in _draw(picture, out, LOOKS[look], before)]
    for ending, text in texts.items():
        path = out / f"{picture.name}.{ending}"
        if not path.is_file() or path.read_bytes() != text.encode("utf-8"):
            write_text(path, text)
        files.append({"file": path.name, "sha256": sha256_of(path)})
    return {"picture": picture.name, "title": picture.title, "alt": picture.alt, "files": files}


def _draw(
    picture: Picture, out: Path, look: Look, before: dict[str, dict[str, Any]]
) -> list[dict[str, str]]:
    stem = picture.name if look.name == "light" else f"{picture.name}.{look.name}"
    svg_path, png_path = out / f"{stem}.svg", out / f"{stem}.png"
    drawn = picture.canvas.digest(look)
    made = hashlib.sha256(f"{drawn}\x1f{picture.title}\x1f{picture.alt}".encode()).hexdigest()
    if not all(_unchanged(path, made, before) for path in (svg_path, png_path)):
        svg = to_svg(picture.canvas.spec(look), picture.title, picture.alt)
        write_text(svg_path, svg)
        write_bytes(png_path, to_png(svg))
    return [
        {"file": path.name, "sha256": sha256_of(path), "drawn_from": made}
        for path in (svg_path, png_path)
    ]


def _unchanged(path: Path, made: str, before: dict[str, dict[str, Any]]) -> bool:
    held = before.get(path.name, {})
    return (
        held.get("drawn_from") == made and path.is_file() and sha256_of(path) == held.get("sha256")
    )
