"""Prints the figures that tests record, whichever process measured them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pytest


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
