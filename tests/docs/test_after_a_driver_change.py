"""The curator's page runs as it stands, and a reader finds in its releases what another page says.

Both pages share the releases, which take a while to make: first each command of
after-a-driver-change.md, with its correction; then, in Chromium, what reading-a-release.md quotes.
"""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "pipeline" / "docs" / "after-a-driver-change.md"
STUDY = ROOT / "datasets" / "link-width"
QUOTED = re.compile(r"```markdown\n(.*?)```", re.DOTALL)
READING = ROOT / "pipeline" / "docs" / "reading-a-release.md"
PICTURE = re.compile(r"\]\((pictures/[^)]+)\)")
PNG, MOST_BYTES = b"\x89PNG\r\n\x1a\n", 120_000
PLAN_FILES = ("plan.toml", "frame.csv", "sheet-bench.csv")


def prepare(folder: Path) -> None:
    """The study as it stood at its first release, and what was handed in afterwards."""
    shutil.copytree(
        STUDY, folder / "my-study", ignore=shutil.ignore_patterns("later", "releases*", "derived")
    )
    for path in (STUDY / "later").glob("*/result-set.toml"):
        shutil.copytree(path.parent, folder / "handed-in" / path.parent.name)


def halves(page: str) -> tuple[str, str, str]:
    """The page up to its correction, the correction, and the rest."""
    before, _, rest = page.partition("```toml\n")
    correction, _, after = rest.partition("```")
    return before, correction, after


@pytest.fixture(scope="module")
def walked(
    walk_through: Callable[[Path, Path], None], tmp_path_factory: pytest.TempPathFactory
) -> Path:
    """The folder in which every command of the curator's page was run."""
    folder = tmp_path_factory.mktemp("walked")
    prepare(folder)
    before, correction, after = halves(PAGE.read_text(encoding="utf-8"))
    for text in (before, after):
        part = folder / "part.md"
        part.write_text(text, encoding="utf-8")
        walk_through(part, folder)
        (folder / "my-study" / "corrections.toml").write_text(correction, encoding="utf-8")
    return folder


@pytest.mark.slow
def test_each_step_does_what_the_page_shows(walked: Path) -> None:
    for name in PLAN_FILES:
        kept = STUDY / "later" / "retest-plan" / name
        assert (walked / "retest-plan" / name).read_bytes() == kept.read_bytes(), name
    changes, tables = QUOTED.findall(PAGE.read_text(encoding="utf-8"))
    releases = walked / "my-study" / "releases"
    told = (releases / "link-width-1.1.0" / "CHANGES.md").read_text(encoding="utf-8")
    assert [line for line in changes.splitlines() if line not in told] == []
    derived = releases / "link-width-1.2.0" / "derived"
    names = ("counted_as_one", "pooled_changes")
    held = "".join((derived / f"{name}.csv").read_text(encoding="utf-8") for name in names)
    assert [line for line in tables.splitlines() if line not in held] == []


def test_the_correction_on_the_page_is_the_one_of_the_demonstration() -> None:
    _, correction, _ = halves(PAGE.read_text(encoding="utf-8"))
    kept = (STUDY / "later" / "corrections.toml").read_text(encoding="utf-8")
    assert correction in kept


def quotes(heading: str) -> list[str]:
    """What a section of the reader's page quotes, each on one line."""
    text = READING.read_text(encoding="utf-8").split(f"## {heading}\n")[1].split("\n## ")[0]
    found: list[list[str]] = [[]]
    for line in map(str.strip, text.splitlines()):
        if line.startswith("> "):
            found[-1].append(line[2:])
        elif found[-1]:
            found.append([])
    return [" ".join(lines) for lines in found if lines]


def unquoted(heading: str, *texts: str) -> list[str]:
    """The quotes of a section that are in none of some texts, however these break their lines."""
    read = [" ".join(text.split()) for text in texts]
    return [quote for quote in quotes(heading) if not any(quote in text for text in read)]


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    """One tab for all: another one takes longer than opening a page anew."""
    held = browser.new_page(viewport={"width": 900, "height": 900})
    yield held
    held.close()


@pytest.fixture
def opened(walked: Path, tab: Page) -> Callable[[str], Page]:
    """Open the page of a version as a stranger does: at its beginning, with nothing chosen."""

    def open_page(version: str) -> Page:
        folder = walked / "my-study" / "releases" / f"link-width-{version}"
        tab.goto("about:blank")
        tab.goto((folder / "index.html").as_uri())
        return tab

    return open_page


def choose(page: Page, control: str, name: str) -> None:
    page.get_by_role("combobox", name=control, exact=True).select_option(label=name)


@pytest.mark.slow
def test_a_reader_finds_whether_a_gain_is_real_on_their_rig(
    opened: Callable[[str], Page],
) -> None:
    page = opened("1.2.0")
    answer, mine = page.locator(".answer").inner_text(), page.locator("#mine")
    choose(page, "Title", "Saltcress Rally")
    page.get_by_role("link", name="My rig").click()
    choose(page, "My platform", "Ostrevik 7-8")
    choose(page, "My card", "Brankelo 52")
    own = mine.inner_text()
    link = page.url
    mine.get_by_role("button", name="+7.1 %").click()
    made = page.get_by_role("dialog").inner_text()
    page.keyboard.press("Escape")
    choose(page, "My card", "Brankelo 94")
    other = mine.inner_text()
    choose(page, "My platform", "Hurlen 2-4")
    heading = "Is the gain in Saltcress Rally real on my rig?"
    assert unquoted(heading, answer, own, made, mine.inner_text()) == []
    assert "9 comparisons on 3 rigs of this pair" in other
    assert "9 within ±3 %, 0 not settled" in other
    page.goto(link)
    assert mine.inner_text() == own


@pytest.mark.slow
def test_a_reader_finds_what_changed(opened: Callable[[str], Page]) -> None:
    page = opened("1.1.0")
    page.get_by_role("link", name="what changed since 1.0.0").click()
    assert page.evaluate("document.activeElement.id") == "changes"
    assert unquoted("What changed in 1.1.0?", page.locator("main").inner_text()) == []


@pytest.mark.slow
def test_a_reader_finds_how_to_cite_the_release_and_one_number(
    opened: Callable[[str], Page],
) -> None:
    page = opened("1.2.0")
    cite = page.locator("#cite-text").inner_text()
    choose(page, "Title", "Saltcress Rally")
    page.get_by_role("button", name="+7.1 %").first.click()
    assert unquoted("Cite this", cite, page.locator("#quote").inner_text()) == []
    runs = page.locator("main").inner_text()
    assert "2157 measured runs in 64 sessions on 12 rigs, 8 workloads." in runs


def test_the_pictures_are_there_and_small() -> None:
    names = PICTURE.findall(" ".join(READING.read_text(encoding="utf-8").split()))
    held = [(READING.parent / name).read_bytes() for name in names]
    assert len(names) == 4
    assert [data[: len(PNG)] for data in held] == [PNG] * len(names)
    assert max(map(len, held)) < MOST_BYTES
