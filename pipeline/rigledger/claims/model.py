"""A claim, and what the data say of it, as typed, frozen objects. Nothing here reads a file."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from rigledger.claims.printed import Printed

Quantity = Literal[
    "change", "largest_change", "geometric_mean_change", "no_difference", "depends_on", "ranking",
    "rig_difference", "value",
]  # fmt: skip
Verdict = Literal["holds", "fails", "broader_than_the_data", "not_settled"]
Dimension = Literal[
    "contrast", "metric", "contributor", "platform", "card", "rig", "workload", "resolution",
    "level", "title_set",
]  # fmt: skip
DIMENSIONS: tuple[Dimension, ...] = (
    "contrast", "metric", "contributor", "platform", "card", "rig", "workload", "resolution",
    "level", "title_set",
)  # fmt: skip
"""What a scope may name; claims.toml writes each in the plural."""

HOLDS: Verdict = "holds"
FAILS: Verdict = "fails"
BROADER: Verdict = "broader_than_the_data"
NOT_SETTLED: Verdict = "not_settled"
VERDICTS: tuple[Verdict, ...] = (FAILS, BROADER, NOT_SETTLED, HOLDS)
"""In the order in which a person wants to see them."""


@dataclass(frozen=True, slots=True)
class Scope:
    """What a sentence is stated for: names by dimension; a dimension that is left out means all."""

    named: tuple[tuple[Dimension, tuple[str, ...]], ...] = ()

    def of(self, dimension: Dimension) -> tuple[str, ...] | None:
        """Give the names of a dimension, None where it is left out."""
        return dict(self.named).get(dimension)

    def names(self, *dimensions: Dimension) -> bool:
        """Say whether any of some dimensions is named."""
        return any(dimension in dict(self.named) for dimension in dimensions)

    def narrowed(self, dimension: Dimension, names: tuple[str, ...]) -> Scope:
        """Give the scope with a dimension set to some names."""
        held = {**dict(self.named), dimension: names}
        return Scope(tuple((one, held[one]) for one in DIMENSIONS if one in held))

    def __str__(self) -> str:
        """Write it in a line; ``everything`` where nothing is named."""
        return "; ".join(f"{key}={', '.join(names)}" for key, names in self.named) or "everything"


@dataclass(frozen=True, slots=True)
class Claim:
    """A sentence of the review and what it states; attributes as in [[claims]] of claims.toml.

    Attributes:
        printed: The value as printed, understood; None where the quantity has none.
        direction: gain or loss, where the value doesn't say it.
        order: Rigs or workloads, the greatest first, of a ranking.
        ranked_by: value or change.
        factor: What the change is said to depend on.
        against: The rig that a difference is stated against.
        acknowledged: Whether the author knows that it doesn't hold and publishes it as such.
        reason: Why it is acknowledged.
    """

    claim: str
    sentence: str
    quantity: Quantity
    scope: Scope = Scope()
    printed: Printed | None = None
    direction: Literal["gain", "loss"] | None = None
    order: tuple[str, ...] = ()
    ranked_by: Literal["value", "change"] | None = None
    factor: Literal["platform", "card", "platform_card"] | None = None
    against: str | None = None
    acknowledged: bool = False
    reason: str | None = None


class CellKey(NamedTuple):
    """A row of ``comparisons``, by its primary key; blank where a row has no such part."""

    rig: str
    stack: str
    workload: str
    title_build: str
    resolution: str
    contrast: str
    metric: str


@dataclass(frozen=True, slots=True)
class Judged:
    """What the data say of a claim.

    Attributes:
        claim: The claim.
        verdict: holds, fails, broader_than_the_data or not_settled.
        finding: Which rule decided, a word of the list claim_finding.
        because: Why, in a sentence.
        found: What was found, in words; None where nothing was.
        value: The figure found (per cent for a change or difference), None where there is none; of
            several cells the one farthest from what is stated.
        low: Lower end of its 95 % interval; over several cells, one that holds for all of them.
        high: Upper end.
        unit: Unit of the three.
        narrowest: The widest wording that holds instead, as a sentence; None where there is none.
        offered: The same as a claim, whose verdict is holds.
        cells: The comparisons it rests on; for a value or a ranking of rigs, the cells' keys with
            a blank contrast and the level in front of nothing.
        missing: Cells of its scope that were not measured or have no verdict: place and why.
    """

    claim: Claim
    verdict: Verdict
    finding: str
    because: str
    found: str | None = None
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    narrowest: str | None = None
    offered: Claim | None = None
    cells: tuple[CellKey, ...] = field(default=(), repr=False)
    missing: tuple[str, ...] = field(default=(), repr=False)

    @property
    def is_open(self) -> bool:
        """Whether the author still has to do something about it."""
        return self.verdict != HOLDS and not self.claim.acknowledged
