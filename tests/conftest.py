"""Prints the figures that tests record, whichever process measured them; starts the browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser

HERE = Path(__file__).parent
# These build and publish the same studies: in one process, libraries load once and what was found
# for the same bytes is found once.
TOGETHER = {
    "audit", "charts", "claims", "commands", "datasets", "docs", "quote", "release", "site",
    "upgrades",
}  # fmt: skip
CHROMIUM = Path("/usr/bin/chromium")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Give each file's tests to one process, and those that share studies to one, begun first."""
    if not config.pluginmanager.hasplugin("xdist"):
        return
    for item in items:
        item.add_marker(pytest.mark.xdist_group(_group(item.path)))
    items.sort(key=lambda item: _group(item.path) != "studies")


def _group(path: Path) -> str:
    place = path.relative_to(HERE)
    return "studies" if place.parts[0] in TOGETHER else place.with_suffix("").as_posix()


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    """Start Chromium; tests that need it are skipped where there is none."""
    if not CHROMIUM.is_file():
        pytest.skip("no Chromium at its usual place")
    from playwright.sync_api import sync_playwright

    with sync_playwright() as held:
        started = held.chromium.launch(executable_path=str(CHROMIUM), args=FLAGS)
        yield started
        started.close()


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """List every recorded property behind the results."""
    reports = terminalreporter.getreports("passed")
    figures = [
        pair for report in reports if report.when == "call" for pair in report.user_properties
    ]
    if figures:
        terminalreporter.section("figures", sep="-")
    for name, value in figures:
        terminalreporter.line(f"{name}: {value}")
