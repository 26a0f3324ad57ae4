"""What a rule found of a claim, before it is put into words for the author."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from rigledger.claims.model import BROADER, NOT_SETTLED, CellKey

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from rigledger.claims.evidence import Evidence, Row
    from rigledger.claims.model import Claim, Scope, Verdict

ERROR = 0.025
"""What each side of a two-sided interval may miss, so that a true claim fails 5 % at most."""

PASSED = 0.05
"""One-sided level at which a claim must be shown to be near enough: what may be passed wrongly."""

_PLACE = ("rig", "from_rig", "to_rig", "workload", "title_set", "resolution", "level", "contrast",
          "metric", "factor")  # fmt: skip
_SHOWN = 3


@dataclass(frozen=True)
class Found:
    """What was found.

    Attributes:
        verdict, finding, because, found, value, low, high, unit: as in `model.Judged`.
        rows: The rows it was judged by.
        missing: Rows of its scope that can't be judged.
        true_of: Rows of which the sentence may be true.
        neutral: Rows that don't matter for it.
        level: One-sided level at which ``true_of`` was found; None where that follows from the
            rows of a narrower scope.
    """

    verdict: Verdict = NOT_SETTLED
    finding: str = "too_wide"
    because: str = ""
    found: str | None = None
    value: float | None = None
    low: float | None = None
    high: float | None = None
    unit: str | None = None
    rows: Sequence[Row] = ()
    missing: Sequence[Row] = ()
    true_of: Sequence[Row] = ()
    neutral: Sequence[Row] = ()
    level: float | None = None

    def judged(
        self,
        verdict: Verdict,
        finding: str,
        because: str,
        *,
        true_of: Sequence[Row] = (),
        neutral: Sequence[Row] = (),
    ) -> Found:
        """Give the same figures with a verdict."""
        return replace(
            self,
            verdict=verdict,
            finding=finding,
            because=because,
            true_of=true_of,
            neutral=neutral,
        )

    @property
    def false_of(self) -> list[Row]:
        """Rows it was judged by and that it isn't true of."""
        other = {id(row) for row in (*self.true_of, *self.neutral)}
        return [row for row in self.rows if id(row) not in other]


def nothing_found(claim: Claim, rows: Sequence[Row], missing: Sequence[Row]) -> Found:
    """Say that nothing of a scope can be judged, and what comes nearest."""
    if missing:
        because = f"not one of its cells can be judged: {places(missing, why=True)}"
        return Found(NOT_SETTLED, "unmeasured", because, missing=missing)
    near = _nearest(claim.scope, rows)
    because = f"nothing was measured for {claim.scope}" + (f"; nearest: {near}" if near else "")
    return Found(NOT_SETTLED, "no_such_cell", because)


def _nearest(scope: Scope, rows: Sequence[Row]) -> str | None:
    def matches(row: Row) -> int:
        return sum(row.get(key) in names for key, names in scope.named)

    return place(max(rows, key=matches)) if rows else None


def some_missing(found: Found, missing: Sequence[Row]) -> Found:
    """Turn what would hold into too broad where cells of the scope can't be judged."""
    because = (
        f"{len(missing)} of {len(missing) + len(found.rows)} cells of its scope can't be judged: "
        f"{places(missing, why=True)}"
    )
    return replace(
        found, verdict=BROADER, finding="unmeasured", because=because, missing=missing,
        true_of=found.true_of or found.rows,
    )  # fmt: skip


def unknown_name(says: str) -> Found:
    """Say that a claim names what the study doesn't hold."""
    return Found(NOT_SETTLED, "unknown_name", says)


def discovered(near: Callable[[float], NDArray[np.bool_]]) -> tuple[NDArray[np.bool_], float]:
    """Give those of many estimates that are near enough, paying for having looked at all.

    Benjamini and Hochberg (1995): the most of m estimates, k of them, that are each near enough at
    5 % times k / m; of those, 5 % at most are expected to be wrong.

    Args:
        near: Gives for a one-sided level which estimates are near enough; fewer at a lower one.

    Returns:
        Which, and the level.
    """
    level, chosen = PASSED, near(PASSED)
    while chosen.any() and level > PASSED * float(chosen.mean()):
        level = PASSED * float(chosen.mean())
        chosen = near(level)
    return chosen, level


def kept(rows: Sequence[Row], chosen: NDArray[np.bool_]) -> list[Row]:
    """Give the rows that are chosen."""
    return [row for row, one in zip(rows, chosen, strict=True) if one]


def place(row: Row) -> str:
    """Name a row by what tells it apart."""
    return " ".join(str(row[name]) for name in _PLACE if row.get(name) is not None)


def places(rows: Sequence[Row], *, why: bool = False) -> str:
    """Name some rows, the first three by name."""
    told = [
        place(row) + (f" ({str(row['why']).replace('_', ' ')})" if why else "")
        for row in rows[:_SHOWN]
    ]
    more = len(rows) - len(told)
    return "; ".join(told) + (f"; and {more} more" if more else "")


def cell_keys(rows: Iterable[Row], evidence: Evidence) -> tuple[CellKey, ...]:
    """Give the comparisons (or cells) behind some rows, each once, in the order of their keys.

    A row of ``overall`` rests on the comparisons of its titles, one of ``factor_effects`` on those
    of the contributor's rigs, one of ``rig_comparisons`` on the cells of both rigs.
    """
    keys: set[CellKey] = set()
    for row in rows:
        if "stack" in row:
            keys.add(_key(row))
        elif "from_rig" in row:
            keys |= {_key(held) for held in evidence.values if _of_pair(held, row)}
        else:
            keys |= {_key(held) for held in evidence.judged if _of_summary(held, row)}
    return tuple(sorted(keys))


def _key(row: Row) -> CellKey:
    return CellKey(*(str(row.get(name, "")) for name in CellKey._fields))


def _of_pair(held: Row, row: Row) -> bool:
    same = all(held[name] == row[name] for name in ("resolution", "level", "metric"))
    titles = row["workload"] in ("all-shared", held["workload"])
    return same and titles and held["rig"] in (row["from_rig"], row["to_rig"])


def _of_summary(held: Row, row: Row) -> bool:
    names = ("rig", "contributor", "workload", "resolution", "contrast", "metric")
    titles = str(row.get("titles_used") or held["workload"]).split(" ")
    return held["workload"] in titles and all(
        held[name] == row[name] for name in names if name in row
    )
