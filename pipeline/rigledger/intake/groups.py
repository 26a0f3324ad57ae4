"""Findings as a person reads them: by rule, file and column, with counts and places."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.load import load_contract

if TYPE_CHECKING:
    from rigledger.contract.model import Rule
    from rigledger.findings import Finding
    from rigledger.intake.result import CheckResult

_STAGES = ("gate", "signature", "keys", "read", "types", "check", "sql", "patterns", "captures")
_FIRST = 5


@dataclass(frozen=True, slots=True)
class Group:
    """Findings of one rule in one file and column.

    Attributes:
        rule: The rule.
        findings: Its findings here, in the order of their rows.
    """

    rule: Rule
    findings: tuple[Finding, ...]

    @property
    def first(self) -> Finding:
        """The first finding, which stands for all."""
        return self.findings[0]

    @property
    def place(self) -> str:
        """File and column in words."""
        parts = [self.first.file or "the set"]
        if self.first.column:
            parts.append(f"column {self.first.column}")
        return ", ".join(parts)

    @property
    def rows(self) -> str:
        """The first rows in words; empty where the findings have none."""
        rows = sorted({finding.row for finding in self.findings if finding.row is not None})
        if not rows:
            return ""
        few = ", ".join(str(row) for row in rows[:_FIRST])
        more = f" and {len(rows) - _FIRST} more" if len(rows) > _FIRST else ""
        return f"row {few}" if len(rows) == 1 else f"rows {few}{more}"


def group_findings(result: CheckResult, severity: str) -> list[Group]:
    """Group the findings of one severity: what must be right first comes first."""
    rules = load_contract().rules
    held: dict[tuple[str, str, str], list[Finding]] = {}
    for finding in result.findings:
        if finding.severity == severity:
            key = (finding.rule, finding.file, finding.column or "")
            held.setdefault(key, []).append(finding)
    groups = [Group(rules[rule], tuple(found)) for (rule, _, _), found in held.items()]
    return sorted(groups, key=_rank)


def _rank(group: Group) -> tuple[int, int, str, str]:
    stage = group.rule.found_by
    place = _STAGES.index(stage) if stage in _STAGES else len(_STAGES)
    return (place, -len(group.findings), group.rule.code, group.place)
