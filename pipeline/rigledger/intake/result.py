"""What a check comes to: verdict, findings, rules that could not run."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.findings import Finding

Verdict = Literal["accepted", "accepted_with_remarks", "returned"]


@dataclass(frozen=True, slots=True)
class NotRun:
    """A rule that could not run, and why."""

    rule: str
    because: str


@dataclass(frozen=True, slots=True)
class CheckResult:
    """The result of checking one set.

    Attributes:
        verdict: ``returned`` where any finding is an error.
        findings: Every finding, ordered by file, row, column and rule.
        not_run: Rules that could not run.
        set_id: ``contributor.set``; None where the set doesn't say.
        study: Name of the study the set was held against; None without one.
        counts: How many rigs, sessions, runs, measured runs, cells and measurements were read.
    """

    verdict: Verdict
    findings: tuple[Finding, ...]
    not_run: tuple[NotRun, ...]
    set_id: str | None
    study: str | None = None
    counts: Mapping[str, int] = field(default_factory=dict)


def verdict_on(findings: tuple[Finding, ...]) -> Verdict:
    """Give the verdict that findings come to."""
    if any(finding.severity == "error" for finding in findings):
        return "returned"
    return "accepted_with_remarks" if findings else "accepted"
