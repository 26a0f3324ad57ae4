"""What rests on the old version: comparisons and claims, by how much of the study, since when."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rigledger.audit.rows import rows

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Mapping, Sequence

    import duckdb

    from rigledger.audit.change import Announced, Touched
    from rigledger.audit.line import StackOnRig
    from rigledger.claims.model import Judged

Row = dict[str, Any]
_KEY = ("rig", "stack", "workload", "title_build", "resolution", "contrast", "metric")


@dataclass(frozen=True, slots=True)
class RestingOnRig:
    """What of one rig rests on the old version.

    Attributes:
        was: What the rig was on, column (or workload) and old value.
        since: Day of its first session with the old version.
        comparisons: Comparisons that a reader sees and that rest on it.
        material: Those of them with a material change.
        titles: Titles among them.
        of_rig: All comparisons of the rig that a reader sees.
        goes_back: Whether the rig had the new version before.
        published_since: First release that holds them, if any; filled in by who knows releases.
    """

    rig: str
    was: tuple[tuple[str, str | None], ...]
    since: dt.date
    comparisons: int
    material: int
    titles: int
    of_rig: int
    goes_back: bool
    sets: tuple[str, ...]
    published_since: str | None = None


@dataclass(frozen=True, slots=True)
class RestingClaim:
    """A claim that rests on the old version, with how many of its comparisons do."""

    claim: str
    sentence: str
    verdict: str
    resting: int
    of: int


@dataclass(frozen=True, slots=True)
class Stale:
    """What an announced change makes stale.

    Attributes:
        rigs: One entry a touched rig.
        claims: Claims that rest on the old version, those that hold first.
        comparisons: All comparisons of the study that a reader sees.
        keys: Keys of the comparisons that rest on it.
    """

    rigs: tuple[RestingOnRig, ...]
    claims: tuple[RestingClaim, ...]
    comparisons: int
    keys: frozenset[tuple[str, ...]]

    @property
    def resting(self) -> int:
        """How many comparisons rest on the old version."""
        return sum(held.comparisons for held in self.rigs)


def find_stale(
    con: duckdb.DuckDBPyConnection, announced: Announced, claims: Sequence[Judged] = ()
) -> Stale:
    """List what rests on the old version.

    Args:
        con: A connection with the source and the derived tables.
        announced: The change and the rigs it touches.
        claims: The study's claims as judged.
    """
    seen = rows(con, "comparisons")
    resting = [row for row in seen if rests(announced, row)]
    keys = frozenset(tuple(row[name] for name in _KEY) for row in resting)
    return Stale(
        rigs=tuple(_on_rig(touched, seen, resting) for touched in announced.touched),
        claims=_claims(claims, keys),
        comparisons=len(seen),
        keys=keys,
    )


def with_releases(stale: Stale, releases: Sequence[tuple[str, frozenset[str]]]) -> Stale:
    """Say for each rig which release first held what rests on the old version.

    Args:
        stale: What rests on it.
        releases: Version and sets of each release, the oldest first.
    """
    return replace(
        stale,
        rigs=tuple(
            replace(
                held,
                published_since=next(
                    (version for version, sets in releases if sets & set(held.sets)), None
                ),
            )
            for held in stale.rigs
        ),
    )


def rests(announced: Announced, row: Mapping[str, Any]) -> bool:
    """Say whether a row rests on the old version.

    Args:
        announced: The change.
        row: Rig, workload and title_build, and the columns of its stack.
    """
    if row["rig"] not in {touched.rig for touched in announced.touched}:
        return False
    if announced.change.control:
        return True
    builds = dict(announced.change.builds)
    if any(row[name] != new for name, new in announced.change.versions):
        return True
    return row["workload"] in builds and row["title_build"] != builds[row["workload"]]


def _on_rig(touched: Touched, seen: Sequence[Row], resting: Sequence[Row]) -> RestingOnRig:
    own = [row for row in resting if row["rig"] == touched.rig]
    stacks = {row["stack"] for row in own}
    line = [held for held in touched.line.stacks if held.stack in stacks]
    line = line or [touched.line.current]
    return RestingOnRig(
        rig=touched.rig,
        was=(*touched.was, *touched.builds),
        since=_since(touched, line),
        comparisons=len(own),
        material=sum(row["size"] == "material" for row in own),
        titles=len({row["workload"] for row in own}),
        of_rig=sum(row["rig"] == touched.rig for row in seen),
        goes_back=touched.goes_back_to is not None,
        sets=tuple(dict.fromkeys(name for held in line for name in held.sets)),
    )


def _since(touched: Touched, line: Sequence[StackOnRig]) -> dt.date:
    if touched.was:
        return min(held.since for held in line)
    old = set(touched.builds)
    return min(
        held.since for held in touched.line.builds if (held.workload, held.title_build) in old
    )


def _claims(claims: Sequence[Judged], keys: frozenset[tuple[str, ...]]) -> tuple[RestingClaim, ...]:
    places = {_place(key) for key in keys}
    found = [
        RestingClaim(held.claim.claim, held.claim.sentence, held.verdict, resting, len(held.cells))
        for held in claims
        if (resting := sum(_place(cell) in places for cell in held.cells))
    ]
    return tuple(sorted(found, key=lambda held: (held.verdict != "holds", held.claim)))


def _place(key: Sequence[str]) -> tuple[str, ...]:
    """A comparison without its contrast and metric: claims on values and rankings name neither."""
    return tuple(key[:5])
