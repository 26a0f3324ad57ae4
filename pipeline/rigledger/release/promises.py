"""The three promises of a release, and the evidence on which they are judged."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.release.outcome import Difference, Verdict
    from rigledger.release.rederive import Rebuilt

PromiseName = Literal["source_bytes", "derived_values", "all_bytes"]
_SAYS: dict[PromiseName, str] = {
    "source_bytes": "the tables that were measured or declared have the same bytes",
    "derived_values": "every derived value follows from them, equal to 1e-9 relative",
    "all_bytes": "every file is made again with the same bytes",
}


@dataclass(frozen=True, slots=True)
class Promise:
    """One of the three promises.

    Attributes:
        name: Its name.
        says: The promise in words.
        holds: Whether it holds here.
        because: Why not; empty where it holds.
    """

    name: PromiseName
    says: str
    holds: bool
    because: str = ""

    def as_dict(self) -> dict[str, Any]:
        """Give the promise as JSON values."""
        return {name: getattr(self, name) for name in self.__slots__}


@dataclass
class Evidence:
    """What the steps of a recheck found, by what it bears on.

    Attributes:
        integrity: Hashes, missing and extra files, the fingerprint.
        source: Source tables: reading, contract, spelling, captures.
        derived: Derived tables that can't be read or built.
        copies: Parquet copies.
        generated: Files that are made from the tables.
        sets: The result sets as handed in, where they were at hand.
        rebuilt: The derived tables made again; None where it came to nothing.
        told: What the reader gave to check against: ``fingerprint``, ``key``, ``register``,
            ``previous``, ``deep``, ``study``.
        signed_with: Fingerprint of the key that rightly signed it; None where none did.
        has_previous: Whether there was a release before.
        older_contract: The contract by which it was written, where that is an older one.
    """

    integrity: list[Difference] = field(default_factory=list)
    source: list[Difference] = field(default_factory=list)
    derived: list[Difference] = field(default_factory=list)
    copies: list[Difference] = field(default_factory=list)
    generated: list[Difference] = field(default_factory=list)
    sets: list[Difference] = field(default_factory=list)
    rebuilt: Rebuilt | None = None
    told: frozenset[str] = frozenset()
    signed_with: str | None = None
    has_previous: bool = False
    older_contract: str | None = None

    def differences(self) -> list[Difference]:
        """List everything once, what the hashes say first."""
        rebuilt = self.rebuilt.differences if self.rebuilt else ()
        found = (
            *self.integrity, *self.source, *self.derived, *rebuilt, *self.copies, *self.generated,
            *self.sets,
        )  # fmt: skip
        return list(dict.fromkeys(found))


def promises(evidence: Evidence) -> tuple[Promise, ...]:
    """Say which of the three promises hold."""
    sources = [one for one in evidence.integrity if one.file.startswith("data/")]
    sources += [one for one in evidence.source if one.file.startswith(("data/", "captures/"))]
    rebuilt = evidence.rebuilt
    values = [*evidence.derived, *(rebuilt.differences if rebuilt else ())]
    inexact = [f"derived/{name}.csv" for name in rebuilt.same_values] if rebuilt else []
    return (
        _promise("source_bytes", sources),
        _promise(
            "derived_values", values, "" if rebuilt else "the tables could not be built again"
        ),
        _promise("all_bytes", evidence.differences(), ", ".join(inexact)),
    )


def _promise(name: PromiseName, against: Iterable[Difference], otherwise: str = "") -> Promise:
    files = list(dict.fromkeys(one.file for one in against))
    more = f" and {len(files) - 3} more" if len(files) > 3 else ""
    because = ", ".join(files[:3]) + more if files else otherwise
    return Promise(name, _SAYS[name], not because, because)


def verdict_of(evidence: Evidence) -> Verdict:
    """Judge a release: a difference that another version may explain doesn't make it altered."""
    found = evidence.differences()
    if any(not one.other_version for one in found):
        return "altered"
    if found:
        return "made_by_another_version"
    rebuilt = evidence.rebuilt
    if rebuilt is None:
        return "altered"
    return "values_follow" if rebuilt.same_values else "as_published"
