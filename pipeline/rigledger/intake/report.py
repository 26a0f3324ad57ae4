"""The result of a check as text, JSON and CSV, and the forms of forges."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING

from rigledger.counting import counted, listed
from rigledger.intake.formulas import neutral
from rigledger.intake.groups import Group, group_findings
from rigledger.intake.report_ci import as_junit, as_sarif
from rigledger.intake.report_markdown import as_markdown

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.intake.result import CheckResult, NotRun

__all__ = ["as_csv", "as_json", "as_junit", "as_markdown", "as_sarif", "summary_text"]

_VERDICTS = {
    "accepted": "Accepted: nothing to mend.",
    "accepted_with_remarks": "Accepted with remarks: nothing has to be mended.",
    "returned": "Returned: there are things to mend.",
}
_FEW_RULES = 5
_COLUMNS = ("file", "row", "column", "rule", "severity", "value", "reason", "next_step")


def summary_text(result: CheckResult) -> str:
    """Give the summary that a person reads: verdict, what to mend, remarks.

    The full list is in `as_csv` and `as_json`.
    """
    lines = [_VERDICTS[result.verdict], headline(result), ""]
    for severity, title in (("error", "To mend"), ("remark", "Remarks")):
        groups = group_findings(result, severity)
        if groups:
            places = sum(len(group.findings) for group in groups)
            lines += [f"{title}: {len(groups)} ({counted(places, 'place')})", ""]
            for number, group in enumerate(groups, start=1):
                lines += [*_group_lines(number, group), ""]
    lines += _not_run_lines(result.not_run)
    return "\n".join(lines).rstrip() + "\n"


def headline(result: CheckResult) -> str:
    """Say in a sentence what was read."""
    name = result.set_id or "A set without a name"
    against = f" for the study {result.study}" if result.study else ""
    if not result.counts:
        return f"{name}{against}: nothing could be read."
    return f"{name}{against}: {listed(result.counts)}."


def _group_lines(number: int, group: Group) -> list[str]:
    first = group.first
    many = len(group.findings)
    where = ", ".join(part for part in (group.place, group.rows) if part)
    count = f" ({many} places)" if many > 1 else ""
    value = f" (here: {first.value})" if first.value and first.value not in first.reason else ""
    step = first.next_step.replace("\n", "\n       ")
    lines = [
        f"{number:3}. {group.rule.title}  [{group.rule.code}]",
        f"     {where}{count}",
        f"     {first.reason}{value}",
    ]
    if group.rule.found_by != "types":
        lines.append(f"     Why: {group.rule.why}")
    lines.append(f"     Next step: {step}")
    if len({finding.next_step for finding in group.findings}) > 1:
        lines.append("     The other places likewise; --csv FILE or --json lists each.")
    return lines


def _not_run_lines(not_run: Iterable[NotRun]) -> list[str]:
    by_reason: dict[str, list[str]] = {}
    for item in not_run:
        by_reason.setdefault(item.because, []).append(item.rule)
    if not by_reason:
        return []
    lines = ["Not run yet:"]
    for because, rules in by_reason.items():
        few = ", ".join(rules[:_FEW_RULES])
        more = f" and {len(rules) - _FEW_RULES} more" if len(rules) > _FEW_RULES else ""
        lines.append(f"  because {because}: {few}{more}")
    return lines


def as_json(result: CheckResult) -> str:
    """Give everything as JSON: verdict, set, counts, all findings, rules that could not run."""
    held = {
        "verdict": result.verdict,
        "set_id": result.set_id,
        "study": result.study,
        "counts": dict(result.counts),
        "findings": [finding.as_dict() for finding in result.findings],
        "not_run": [{"rule": item.rule, "because": item.because} for item in result.not_run],
    }
    return json.dumps(held, indent=2, ensure_ascii=False) + "\n"


def as_csv(result: CheckResult) -> str:
    """Give all findings as CSV, one row each; no cell of it is run by a spreadsheet."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for finding in result.findings:
        held = finding.as_dict()
        writer.writerow(
            ["" if held[name] is None else neutral(str(held[name])) for name in _COLUMNS]
        )
    return stream.getvalue()
