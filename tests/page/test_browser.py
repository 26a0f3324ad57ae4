"""The page in a real browser: from disk, without a network, at phone width and in the dark."""

from __future__ import annotations

from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import pytest

from rigledger.page import tables
from rigledger.page.words import signed_pct

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from playwright.sync_api import Browser, Page

    from rigledger.release.view import ReleaseView

    Opened = Callable[..., Page]

pytestmark = pytest.mark.slow
READERS = Path(__file__).resolve().parents[2] / "build" / "readers"
TIMES = count()


@pytest.fixture(scope="module")
def hostile_file(
    hostile_view: ReleaseView,
    page_of: Callable[[ReleaseView], str],
    tmp_path_factory: pytest.TempPathFactory,
) -> Path:
    file = tmp_path_factory.mktemp("browser") / "index.html"
    file.write_bytes(page_of(hostile_view).encode("utf-8"))
    return file


@pytest.fixture(scope="module")
def tab(browser: Browser) -> Iterator[Page]:
    """A tab whose network is blocked: a tab of its own takes longer than most tests do in it."""
    held = browser.new_context(accept_downloads=True)
    held.route(lambda address: not address.startswith("file:"), lambda route: route.abort())
    yield held.new_page()
    held.close()


@pytest.fixture(scope="module")
def said(tab: Page) -> list[str]:
    """Collect the errors of whatever the tab holds."""
    errors: list[str] = []
    tab.on("console", lambda one: errors.append(one.text) if one.type == "error" else None)
    tab.on("pageerror", lambda error: errors.append(str(error)))
    return errors


@pytest.fixture
def opened(tab: Page, said: list[str], hostile_file: Path) -> Iterator[Opened]:
    """Open the hostile study's page anew; errors fail the test at its end."""

    def open_page(
        link: str = "", width: int = 1280, scheme: Literal["light", "dark"] = "light"
    ) -> Page:
        tab.set_viewport_size({"width": width, "height": 900})
        tab.emulate_media(color_scheme=scheme)
        # Another part behind the # alone would open nothing anew.
        tab.goto(f"{hostile_file.as_uri()}?{next(TIMES)}{link}")
        return tab

    said.clear()
    yield open_page
    assert said == []


def test_the_first_picture_shows_the_change_with_a_mark(opened: Opened) -> None:
    found = opened().locator("#grids .mark").inner_text()
    assert found == f"▼ {signed_pct(-10.0)}"


def test_a_filter_changes_the_link_and_the_link_reproduces_the_view(opened: Opened) -> None:
    page = opened()
    page.select_option("#filter-card", "card-one")
    assert "card=card-one" in page.url
    again = opened(f"#{page.url.split('#')[1]}")
    assert again.locator("#filter-card").input_value() == "card-one"
    assert again.locator("#table-comparisons tbody tr").count() == 1


def test_each_title_has_a_figure_of_intervals_with_an_axis_and_a_text(opened: Opened) -> None:
    plot = opened().locator("#figures .plot")
    plot.scroll_into_view_if_needed()
    plot.locator("svg").wait_for()
    texts = plot.locator("svg text").all_text_contents()
    assert "Processor One · Card One, 1920 × 1080" in texts
    assert "change, %" in texts
    assert plot.locator(".mark-symbol path").count() == 1
    said = plot.get_attribute("aria-label") or ""
    assert said.startswith("Change with 95 % interval, ")
    assert f"1920 × 1080: {signed_pct(-10.0)}, " in said


def test_a_table_of_the_page_itself_sorts_and_downloads(opened: Opened) -> None:
    page = opened()
    head = page.locator("table[data-name=tables] th").nth(2)
    head.locator("button").click()
    assert head.get_attribute("aria-sort") == "ascending"
    with page.expect_download() as waited:
        page.locator("[data-csv=tables]").click()
    lines = Path(waited.value.path()).read_text(encoding="utf-8").splitlines()
    assert lines == ["File,What it is,Size,SHA-256", f"data/runs.csv,Runs,10,{'a' * 64}"]


def test_what_was_not_measured_has_no_section(opened: Opened) -> None:
    page = opened()
    assert page.locator("#section-agreement").is_hidden()
    assert page.locator("#section-overall").is_visible()


def test_a_link_to_what_the_release_lacks_says_so_and_shows_everything(opened: Opened) -> None:
    page = opened("#card=%3Cimg%20src%3Dx%3E")
    expected = "This link asks for what the release doesn't hold: <img src=x>."
    assert page.locator("#unknown").inner_text() == expected
    assert page.locator("#table-comparisons tbody tr").count() == 1


def test_a_comparison_leads_to_its_runs_in_two_clicks(opened: Opened) -> None:
    page = opened()
    page.locator("#grids .mark").click()
    page.locator("#made summary").first.click()
    values = page.locator("#made details").first.locator("tbody tr td:last-child")
    assert values.all_inner_texts() == ["100.0", "100.4", "99.70"]
    assert "made=" in page.url
    page.keyboard.press("Escape")
    page.wait_for_url(lambda address: "made=" not in address)


def test_where_not_all_runs_are_listed_the_page_says_where_they_are(
    tab: Page,
    view: ReleaseView,
    page_of: Callable[[ReleaseView], str],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(tables, "MOST_RUNS", 4)
    (tmp_path / "index.html").write_bytes(page_of(view).encode("utf-8"))
    tab.goto((tmp_path / "index.html").as_uri())
    tab.locator("#grids .mark").click()
    tab.locator("#made summary").first.click()
    held = tab.locator("#made details").first
    assert held.locator("p").first.inner_text() == (
        "The latest 2 of them; derived/runs_wide.csv has all."
    )
    assert held.locator("tbody tr td:last-child").all_inner_texts() == ["100.4", "99.70"]


def test_a_table_sorts_and_says_how(opened: Opened) -> None:
    page = opened()
    page.locator("#absolute > summary").click()
    means = page.locator("#table-cells tbody tr td:nth-child(5)")
    heads = page.locator("#table-cells th:nth-child(5)")
    heads.locator("button").click()
    assert heads.get_attribute("aria-sort") == "ascending"
    assert means.all_inner_texts() == ["90.03", "100.0"]
    heads.locator("button").click()
    assert means.all_inner_texts() == ["100.0", "90.03"]


def test_a_table_downloads_as_csv_whose_text_is_no_formula(opened: Opened) -> None:
    page = opened()
    with page.expect_download() as waited:
        page.locator("[data-csv=comparisons]").click()
    text = Path(waited.value.path()).read_text(encoding="utf-8")
    assert waited.value.suggested_filename == "tiny-1.0.0-comparisons.csv"
    assert text.startswith("Title,Resolution,Rig,Change,95 % low,95 % high,")
    assert not any(cell.startswith(("=", "+", "@")) for cell in text.split(","))


def test_my_rig_says_what_holds_for_it(opened: Opened) -> None:
    mine = opened("#my-platform=plat&my-card=card-one").locator("#mine")
    first, last = mine.locator("> p").all_inner_texts()
    assert first == (
        "On against off, average frame rate: 1 comparison on 1 rig of this pair. 0 gains and 1 "
        "loss of more than 3 %, 0 within ±3 %, 0 not settled, 0 without a verdict."
    )
    assert last == (
        "Measured on other people's examples of these models, with platform firmware 1, driver 2, "
        "card firmware 3, OS Fennel, build 4, profile default. Yours may differ in all of that."
    )
    words, basis = mine.locator("td.w").all_inner_texts()
    assert (words, basis) == (
        "A loss of more than 3 % is shown.", "3 + 3 runs on eva.rig; one session",
    )  # fmt: skip


def test_a_pair_that_nobody_measured_is_told_what_its_neighbours_show(opened: Opened) -> None:
    mine = opened("#my-platform=plat&my-card=card-two").locator("#mine")
    assert mine.locator("> p").first.inner_text() == (
        "Nobody has measured this pair of platform and card."
    )
    said = mine.locator("li").inner_text()
    assert said.endswith(": on this platform with other cards −10.0 % to −10.0 % (1 comparison).")


def test_a_number_opens_with_a_sentence_to_quote_and_gives_the_focus_back(opened: Opened) -> None:
    page = opened()
    mark = page.locator("#grids .mark")
    mark.press("Enter")
    quote = page.locator("#quote").inner_text()
    assert "Card One (eva.rig): on against off, average frame rate −10.0 % (95 % interval " in quote
    assert quote.endswith(" (version 1.0.0) [data set].")
    page.keyboard.press("Escape")
    page.wait_for_url(lambda address: "made=" not in address)
    assert mark.evaluate("(one) => one === document.activeElement")


def test_a_heading_that_the_contents_lead_to_is_in_sight_and_has_the_focus(opened: Opened) -> None:
    page = opened(width=900)
    page.locator("nav a", has_text="Intervals").press("Enter")
    under = page.evaluate("document.getElementById('filters').getBoundingClientRect().bottom")
    assert page.evaluate("document.activeElement.id") == "intervals"
    assert page.evaluate("document.activeElement.getBoundingClientRect().top") >= under


@pytest.mark.parametrize("width", [360, 900, 1920])
def test_nothing_scrolls_sideways_at_any_width(opened: Opened, width: int) -> None:
    page = opened(width=width)
    assert page.evaluate("document.documentElement.scrollWidth") == width
    assert page.evaluate("document.querySelectorAll('body script:not([id])').length") == 2


def test_a_reader_in_the_dark_gets_a_dark_page(opened: Opened) -> None:
    page = opened(scheme="dark")
    assert page.evaluate("getComputedStyle(document.body).backgroundColor") == "rgb(22, 25, 29)"


@pytest.fixture(scope="module")
def axe() -> str:
    """The accessibility checker axe-core, which ci/readers/programs.py fetches."""
    file = READERS / "axe" / "node_modules" / "axe-core" / "axe.min.js"
    if not file.is_file():
        pytest.skip("axe-core was not fetched here")
    return file.read_text(encoding="utf-8")


def test_an_accessibility_checker_finds_nothing_serious(opened: Opened, axe: str) -> None:
    page = opened()
    page.evaluate(axe)
    found = page.evaluate("axe.run({ resultTypes: ['violations'] })")
    page.emulate_media(color_scheme="dark")
    dark = page.evaluate("axe.run({ runOnly: ['color-contrast'] })")
    grave = [
        one["id"]
        for one in [*found["violations"], *dark["violations"]]
        if one["impact"] in {"serious", "critical"}
    ]
    assert found["passes"]
    assert dark["passes"]
    assert grave == []
