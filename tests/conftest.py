"""Prints the figures that tests record, whichever process measured them; starts the browser."""

from __future__ import annotations

import gc
from contextlib import contextmanager
from functools import cache, partial
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import pytest
import typer.testing
from hypothesis import settings

from rigledger.release.judges import judges_here

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from contextlib import AbstractContextManager

    from playwright.sync_api import Browser
    from xdist.remote import Producer
    from xdist.scheduler import LoadScopeScheduling

    from rigledger.intake.result import CheckResult

# These build and publish the same studies: in one process, libraries load once and what was found
# for the same bytes is found once.
TOGETHER = {
    "audit", "charts", "claims", "commands", "datasets", "docs", "quote", "release", "site",
    "upgrades",
}  # fmt: skip
# Here commands check a set in the test's own process: to start another one takes longer than the
# check. That both come to the same, tests/intake/test_apart.py says; whole commands run elsewhere.
CHECKED_HERE = {"audit", "datasets", "release", "study", "upgrades"}
# Here sets are checked in a database that is started once: to start it takes longer than many
# checks. Of the one that a set has for itself, locked, intake/test_database.py and the hostile
# corpus speak, and every test of the program's own processes.
QUICK = {"intake", "study"}
CHROMIUM = Path("/usr/bin/chromium")
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]


def pytest_configure(config: pytest.Config) -> None:
    """Say how properties are tried, and spare the tests what takes longer than what they test."""
    settings.register_profile("thorough", max_examples=1000, deadline=None)
    thorough = config.getoption("--hypothesis-profile", None) == "thorough"
    # For properties of which each example takes many milliseconds.
    settings.register_profile("costly", max_examples=300 if thorough else 12, deadline=None)
    # Putting the command line together takes longer than many commands.
    typer.testing._get_command = cache(typer.testing._get_command)
    if hasattr(config, "workerinput"):
        # One of several test processes: more threads would only wait for its processor. Tests that
        # say how many threads they want get those.
        duckdb.connect = partial(_one_thread, duckdb.connect)


def _one_thread(
    connect: Callable[..., duckdb.DuckDBPyConnection],
    *args: Any,  # noqa: ANN401 - as the database takes them
    config: dict[str, Any] | None = None,
    **more: Any,  # noqa: ANN401
) -> duckdb.DuckDBPyConnection:
    return connect(*args, config={"threads": 1} | (config or {}), **more)


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Iterator[None]:
    """Search for no circular garbage in what all test files load: it stays to the end."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


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


@pytest.fixture(scope="session")
def started() -> Iterator[duckdb.DuckDBPyConnection]:
    """Start the database, which takes longer than most of what is asked of it."""
    with duckdb.connect() as held:
        yield held


@contextmanager
def _attached(started: duckdb.DuckDBPyConnection, name: str) -> Iterator[duckdb.DuckDBPyConnection]:
    """Connect to an empty database of that name in one that is started."""
    with started.cursor() as opened:
        opened.execute(f"ATTACH ':memory:' AS {name}")
        try:
            opened.execute(f"USE {name}")
            yield opened
        finally:
            opened.close()
            started.execute(f"DETACH {name}")


@pytest.fixture
def con(started: duckdb.DuckDBPyConnection) -> Iterator[duckdb.DuckDBPyConnection]:
    """A connection to an empty database of the test's own."""
    with _attached(started, "own") as opened:
        yield opened


@pytest.fixture(autouse=True)
def checked_here(
    request: pytest.FixtureRequest,
    monkeypatch: pytest.MonkeyPatch,
    check_here: Callable[..., CheckResult],
) -> None:
    """Let commands judge a release in the test's own process, where libraries are loaded once.

    Where CHECKED_HERE says so, they check sets there too.
    """
    monkeypatch.setattr("rigledger.release.publish.judges_beside", judges_here)
    if request.path.parent.name in CHECKED_HERE:
        for place in ("study.admit", "intake.apart"):
            monkeypatch.setattr(f"rigledger.{place}.check_apart", check_here)


@pytest.fixture(autouse=True)
def one_instance(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> None:
    """Let small sets be checked in a database that is started already, where QUICK says so."""
    if request.path.parent.name in QUICK:
        quick_database = request.getfixturevalue("quick_database")
        for place in ("check", "opened"):
            monkeypatch.setattr(f"rigledger.intake.{place}.locked_database", quick_database)


@pytest.fixture(scope="session")
def quick_database(
    started: duckdb.DuckDBPyConnection,
) -> Callable[..., AbstractContextManager[duckdb.DuckDBPyConnection]]:
    """Opens what `locked_database` opens for small sets, empty too, but not locked."""
    from rigledger.database import plan_plainly
    from rigledger.intake.database import locked_database, make_schemas

    numbers = count()

    @contextmanager
    def opened(
        folder: Path, scratch: Path, *, small: bool = False
    ) -> Iterator[duckdb.DuckDBPyConnection]:
        if not small:
            with locked_database(folder, scratch) as con:
                yield con
            return
        name = f"small_{next(numbers)}"
        with _attached(started, name) as con:
            plan_plainly(con)
            make_schemas(con)
            yield con

    return opened


@pytest.fixture(scope="session")
def check_here() -> Callable[..., CheckResult]:
    """Checks a set as `check_apart` does, without a process of its own."""
    return _check_here


def _check_here(
    path: Path, study: Path | None, *, keep: Path | None = None, **_: object
) -> CheckResult:
    from rigledger.intake.check import check_set

    return check_set(path, study, keep=keep)


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
