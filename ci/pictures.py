"""Makes the pictures of pipeline/docs/reading-a-release.md from the releases that were built.

Usage: python ci/pictures.py

First run python3 ci/start.py, which builds the releases in build/; ci/test.lock has the library
that drives the browser. Widths and colours are set here, so that the same releases in the same
browser give the same pictures.
"""

from __future__ import annotations

import sys
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from playwright.sync_api import Browser, FloatRect, Page

ROOT = Path(__file__).resolve().parents[1]
RELEASES = ROOT / "build" / "link-width" / "releases"
PICTURES = ROOT / "pipeline" / "docs" / "pictures"
CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
MY_RIG = "#title=saltcress-rally&my-platform=q2&my-card=brankelo-52"
MOST_BYTES = 120_000
MARGIN = 8


@dataclass(frozen=True)
class Picture:
    """One picture.

    Attributes:
        name: Its file, without the ending.
        version: The release it shows.
        link: State of the page.
        first: Where it begins: an element's selector.
        last: Element before which it ends; None where ``first`` alone is shown.
        press: Element that is pressed before; None for none.
        width: Of the window, in pixels.
        scheme: Light or dark.
        tallest: Height at which it is cut, in pixels.
    """

    name: str
    version: str
    link: str
    first: str
    last: str | None
    press: str | None = None
    width: int = 900
    scheme: Literal["light", "dark"] = "light"
    tallest: int = 640


LIST = (
    Picture("my-rig", "1.2.0", MY_RIG, "#my-rig", "#intervals", width=1200),
    Picture("how-made", "1.2.0", MY_RIG, "#made", None, press="#mine .mark"),
    Picture("changes", "1.1.0", "", "#changes", "#cite", tallest=480),
    Picture("cite", "1.2.0", "", "#cite", "#downloads", width=360, scheme="dark"),
)


def main() -> int:
    """Make every picture; 1 where a release is missing or a picture too large for a page."""
    missing = [p.version for p in LIST if not _page(p).is_file()]
    if missing:
        print(f"not built: {', '.join(sorted(set(missing)))}; run python3 ci/start.py first")
        return 1
    PICTURES.mkdir(exist_ok=True)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as started:
        browser = started.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
        sizes = {picture.name: _made(browser, picture) for picture in LIST}
        browser.close()
    for name, size in sizes.items():
        print(f"{name}.png: {size / 1000:.0f} kB of {MOST_BYTES / 1000:.0f}")
    return 1 if max(sizes.values()) > MOST_BYTES else 0


def _page(picture: Picture) -> Path:
    return RELEASES / f"link-width-{picture.version}" / "index.html"


def _made(browser: Browser, picture: Picture) -> int:
    """Draw one picture and give its size in bytes."""
    page = browser.new_page(
        viewport={"width": picture.width, "height": 900},
        color_scheme=picture.scheme,
        reduced_motion="reduce",
    )
    page.goto(f"{_page(picture).as_uri()}{picture.link}")
    page.evaluate("document.querySelector('.top').hidden = true")
    if picture.press:
        page.locator(picture.press).first.click()
    path = PICTURES / f"{picture.name}.png"
    page.screenshot(path=path, clip=_clip(page, picture), full_page=picture.last is not None)
    page.close()
    return path.stat().st_size


def _clip(page: Page, picture: Picture) -> FloatRect:
    """Give the part of the page from one element to the next, or one element's own."""
    scrolled = page.evaluate("scrollY")
    box = page.locator(picture.first).bounding_box()
    if box is None:
        raise LookupError(f"{picture.first} is not shown")
    if picture.last is None:
        return {**box, "height": min(box["height"], picture.tallest)}
    end = page.locator(picture.last).bounding_box()
    bottom = (end["y"] if end else box["y"] + picture.tallest) - box["y"] - 3 * MARGIN
    return {
        "x": 0,
        "y": box["y"] + scrolled,
        "width": picture.width,
        "height": min(bottom, picture.tallest),
    }


if __name__ == "__main__":
    sys.exit(main())
