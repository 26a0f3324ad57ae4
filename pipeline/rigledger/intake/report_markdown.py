"""The result as a comment on a merge request; whatever comes from the set stands in code."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rigledger.counting import counted, listed
from rigledger.intake.groups import Group, group_findings
from rigledger.intake.text import printable

if TYPE_CHECKING:
    from rigledger.intake.result import CheckResult

_GROUPS = 40
_LONGEST = 400
_VERDICTS = {
    "accepted": "Accepted",
    "accepted_with_remarks": "Accepted with remarks",
    "returned": "Returned",
}


def code(text: str) -> str:
    """Put a text into a code span that it can't leave: no mention, image, link or HTML comes out.

    Line ends become spaces, characters that don't show become escapes, long texts are cut, and
    the span's fence is longer than any run of backticks inside.
    """
    line = printable(" ".join(text.split()))
    shown = line if len(line) <= _LONGEST else line[:_LONGEST] + "…"
    fence = "`" * (_longest_run(shown) + 1)
    edge = " " if shown.startswith("`") or shown.endswith("`") else ""
    return f"{fence}{edge}{shown}{edge}{fence}" if shown else ""


def _longest_run(text: str) -> int:
    return max((len(run) for run in re.findall("`+", text)), default=0)


def as_markdown(result: CheckResult) -> str:
    """Give the report as Markdown, grouped, short enough for a comment."""
    name = code(result.set_id) if result.set_id else "a set without a name"
    lines = [f"### {_VERDICTS[result.verdict]}: {name}", ""]
    if result.counts:
        lines += [f"Read: {listed(result.counts)}.", ""]
    for severity, title in (("error", "To mend"), ("remark", "Remarks")):
        lines += _section(result, severity, title)
    if result.not_run:
        waiting = counted(len(result.not_run), "rule")
        lines += [f"{waiting} could not run yet; what is listed above comes first.", ""]
    return "\n".join(lines).rstrip() + "\n"


def _section(result: CheckResult, severity: str, title: str) -> list[str]:
    groups = group_findings(result, severity)
    if not groups:
        return []
    lines = [f"#### {title}", ""]
    for group in groups[:_GROUPS]:
        lines += _group(group)
    if len(groups) > _GROUPS:
        further = counted(len(groups) - _GROUPS, "further group")
        lines.append(f"- and {further}; `rigledger check` lists them all")
    return [*lines, ""]


def _group(group: Group) -> list[str]:
    first = group.first
    count = f", {len(group.findings)} places" if len(group.findings) > 1 else ""
    rows = f", {group.rows}" if group.rows else ""
    lines = [
        f"- **{group.rule.title}** (`{group.rule.code}`): {code(group.place)}{rows}{count}",
        f"  - {code(first.reason)}",
    ]
    if first.next_step == group.rule.next_step:
        return [*lines, f"  - Next step: {first.next_step}"]
    return [
        *lines,
        f"  - Next step: {' '.join(code(line) for line in first.next_step.splitlines())}",
    ]
