"""Prints the figures that tests record, whichever process measured them; starts the browser."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import Browser
    from xdist.remote import Producer
    from xdist.scheduler import LoadScopeScheduling

# These build and publish the same studies: in one process, libraries load once and what was found
# for the same bytes is found once.
TOGETHER = {
    "audit", "charts", "claims", "commands", "datasets", "docs", "quote", "release", "site",
    "upgrades",
}  # fmt: skip
CHROMIUM = Path("/usr/bin/chromium")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Begin with the tests that share studies: they take one process nearly half of the time."""
    items.sort(key=lambda item: _group(item.nodeid) != "studies")


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> LoadScopeScheduling:
    """Give each file's tests to one process, and those that share studies to one and the same."""
    from xdist.scheduler import LoadScopeScheduling

    class ByGroup(LoadScopeScheduling):
        def _split_scope(self, nodeid: str) -> str:
            return _group(nodeid)

    return ByGroup(config, log)


def _group(nodeid: str) -> str:
    file = nodeid.partition("::")[0]
    return "studies" if file.split("/")[1] in TOGETHER else file


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
