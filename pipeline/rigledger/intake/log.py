"""Collects findings: severity and next step from the rule, place and numbers from the caller."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.findings import Finding

if TYPE_CHECKING:
    from rigledger.contract.model import Contract


class FindingLog:
    """A growing list of findings under the rules of one contract."""

    def __init__(self, contract: Contract) -> None:
        self.contract = contract
        self.findings: list[Finding] = []

    def add(
        self,
        rule: str,
        reason: str,
        *,
        file: str = "",
        row: int | None = None,
        column: str | None = None,
        value: str | None = None,
        next_step: str | None = None,
    ) -> None:
        """Add one finding.

        Args:
            rule: Code of the rule.
            reason: What is wrong here, in a sentence.
            file: File or sheet; empty for the set as a whole.
            row: Physical row from 1.
            column: Column or key.
            value: The value as written.
            next_step: What to do; None for the rule's own sentence, in which ``{column}`` stands
                for the column.

        Raises:
            ContractError: There is no such rule.
        """
        held = self.contract.rule(rule)
        step = next_step or held.next_step.replace("{column}", column or "the-column")
        self.findings.append(Finding(file, row, column, rule, held.severity, value, reason, step))

    @property
    def errors(self) -> int:
        """How many of the findings return the set."""
        return sum(finding.severity == "error" for finding in self.findings)

    def has(self, rule: str) -> bool:
        """Whether any finding is of this rule."""
        return any(finding.rule == rule for finding in self.findings)
