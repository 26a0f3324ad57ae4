"""The three promises of a release, and what a recheck proves of them."""

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
        rebuilt: The derived tables made again; None where it came to nothing.
    """

    integrity: list[Difference] = field(default_factory=list)
    source: list[Difference] = field(default_factory=list)
    derived: list[Difference] = field(default_factory=list)
    copies: list[Difference] = field(default_factory=list)
    generated: list[Difference] = field(default_factory=list)
    rebuilt: Rebuilt | None = None

    def differences(self) -> list[Difference]:
        """List everything once, what the hashes say first."""
        rebuilt = self.rebuilt.differences if self.rebuilt else ()
        found = (
            *self.integrity, *self.source, *self.derived, *rebuilt, *self.copies, *self.generated,
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


def what_is_proven(
    evidence: Evidence, *, told_fingerprint: bool, deep: bool
) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Say in plain words what the check proves, and what it can't."""
    proven = []
    held = {item.name for item in promises(evidence) if item.holds}
    if not evidence.integrity:
        proven.append("The files are those that the release's own list of hashes names.")
    if "derived_values" in held:
        proven.append("Every derived number follows from the runs that are in the release.")
    if told_fingerprint and not evidence.integrity:
        proven.append("The release is the one whose fingerprint you gave, byte for byte.")
    not_proven = ["That the runs were measured as stated, or that no run was left out beforehand."]
    if not told_fingerprint:
        not_proven.append(
            "That this is the release its authors published: whoever alters the runs and makes "
            "every other file again with this program leaves a release that follows. Compare the "
            "fingerprint with the one quoted where the release was published."
        )
    if not deep:
        not_proven.append("The results of the expectations: they are shown as recorded.")
    not_proven.append("The findings on the sets: they were made from files that are not here.")
    return tuple(proven), tuple(not_proven)
