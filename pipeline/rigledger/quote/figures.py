"""What a placeholder asks for: a figure with what stands against quoting it, or the reason why not.

A problem is an ``error`` (there is no figure), ``open`` (there is one that a review should not
print as it stands: the data don't bear it out) or a ``remark``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from rigledger.charts.source import Source
    from rigledger.claims.model import Judged

    Row = dict[str, Any]

Severity = Literal["error", "open", "remark"]
Kind = Literal["change", "value", "count", "share", "sentence"]
_SQL = Path(__file__).parent / "sql"


@dataclass(frozen=True, slots=True)
class Problem:
    """Something against a figure.

    Attributes:
        rule: Stable code.
        severity: Whether it stops the filling, unless open figures are allowed, or never.
        reason: What is wrong, in a sentence.
        next_step: What to do about it.
    """

    rule: str
    severity: Severity
    reason: str
    next_step: str


@dataclass(frozen=True, slots=True)
class Figure:
    """A figure, unrounded.

    Attributes:
        kind: A signed change in per cent, a value in a unit, a count, a share in per cent, or a
            claim's sentence.
        value: The number; None for a sentence.
        low: Lower end of its 95 % interval.
        high: Upper end.
        unit: Its unit; blank for a count.
        better: The metric's better side: higher, lower or neither.
        direction: gain, loss or not_shown; None where none was judged.
        up_to: Whether it is the largest of several.
        printed: A text whose number it replaces, of a claim; None for the usual form.
        stands: Whether that text stands as it is: it holds for several cells at once.
        sentence: The claim's sentence.
        rests_on: Rows that it comes from, in words.
    """

    kind: Kind
    value: float | None
    low: float | None = None
    high: float | None = None
    unit: str = ""
    better: str = "neither"
    direction: str | None = None
    up_to: bool = False
    printed: str | None = None
    stands: bool = False
    sentence: str | None = None
    rests_on: str = ""


@dataclass(frozen=True, slots=True)
class Found:
    """A figure, if there is one, and what stands against it."""

    figure: Figure | None
    problems: tuple[Problem, ...] = ()


def missing(rule: str, reason: str, next_step: str = "") -> Found:
    """Give no figure, and why."""
    return Found(None, (Problem(rule, "error", reason, next_step),))


@dataclass
class Ledger:
    """The tables that figures come from; each query is run once.

    Attributes:
        source: The tables of a study or release.
        judge: Gives the claims, judged, by name; called when a placeholder names one.
    """

    source: Source
    judge: Callable[[], Mapping[str, Judged]]
    _rows: dict[str, list[Row]] = field(default_factory=dict)

    def rows(self, query: str) -> list[Row]:
        """Give all rows of a query of this package."""
        if query not in self._rows:
            text = (_SQL / f"{query}.sql").read_text(encoding="utf-8")
            cursor = self.source.con.execute(text)
            names = [column[0] for column in cursor.description or ()]
            self._rows[query] = [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]
        return self._rows[query]

    @cached_property
    def names(self) -> list[str]:
        """Names of the study with a letter and a digit in them, which no figure is."""
        design = self.source.design
        held = [row["name"] for row in self.rows("names") if row["name"]]
        held += [design.study, design.title, design.licence, *self._resolutions()]
        return [
            name
            for name in dict.fromkeys(held)
            if any(map(str.isalpha, name)) and any(map(str.isdigit, name))
        ]

    def _resolutions(self) -> list[str]:
        found = [pair.split("x") for pair in self.legal("value", "resolution")]
        forms = ("{0}x{1}", "{0} x {1}", "{0}×{1}", "{0} × {1}", "{1}p")
        return [form.format(*pair) for pair in found for form in forms]

    @cached_property
    def claims(self) -> Mapping[str, Judged]:
        """The claims, judged."""
        return self.judge()

    def legal(self, query: str, key: str) -> list[str]:
        """Give the values that a name may have: what the tables hold."""
        return sorted({str(row[key]) for row in self.rows(query) if row[key] is not None})

    def term(self, vocabulary: str, word: str) -> str:
        """Say a word of a vocabulary in words."""
        terms = self.source.contract.vocabularies[vocabulary].terms
        return str(terms.get(word, word))
