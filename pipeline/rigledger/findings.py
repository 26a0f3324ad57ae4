"""A finding: one thing a rule says about one place of a handed-in set."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Literal

Severity = Literal["error", "remark"]


@dataclass(frozen=True, slots=True, order=True)
class Finding:
    """One thing a rule says about a row.

    Attributes:
        file: File (relative to the set) or sheet; empty for the set as a whole.
        row: Physical row from 1 (the header is row 1 of a CSV file), None for the file as a whole.
        column: Column as written, None for the row as a whole.
        rule: Stable code of the rule, see schema/rules.toml.
        severity: ``error`` returns the set, ``remark`` does not.
        value: The offending value as written, None where the finding is about no single value.
        reason: What is wrong here, in a sentence.
        next_step: What to do about it.
    """

    file: str
    row: int | None
    column: str | None
    rule: str
    severity: Severity
    value: str | None
    reason: str
    next_step: str

    def as_dict(self) -> dict[str, str | int | None]:
        """Give the finding as plain JSON values."""
        return asdict(self)

    def sort_key(self) -> tuple[str, int, str, str, str]:
        """Order findings by place, then rule; missing places first."""
        return (self.file, self.row or 0, self.column or "", self.rule, self.value or "")
