"""Cells worth a look of their own: those that claims rest on, then the largest material changes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from rigledger.audit.frame import FrameCell
    from rigledger.claims.model import CellKey, Judged

Row = dict[str, Any]
_MOST_NAMED = 3


def wanted_cells(
    cells: Sequence[FrameCell], comparisons: Sequence[Row], claims: Sequence[Judged], metric: str
) -> list[tuple[FrameCell, str]]:
    """List cells of the frame that deserve a targeted re-test, with the reason, most wanted first.

    Both levels of a comparison are listed one after the other, so that its change can be compared.

    Args:
        cells: The frame.
        comparisons: The comparisons that a reader sees.
        claims: The study's claims as judged; those that hold come first.
        metric: The metric of the plan.
    """
    by_key = {cell.key: cell for cell in cells}
    found: dict[tuple[str, str, str, str], str] = {}
    for keys, reason in (*_of_claims(comparisons, claims), *_of_changes(comparisons, metric)):
        for key in keys:
            if key in by_key:
                found.setdefault(key, reason)
    return [(by_key[key], reason) for key, reason in found.items()]


_Keys = tuple[tuple[str, str, str, str], ...]


def _of_claims(comparisons: Sequence[Row], claims: Sequence[Judged]) -> Iterator[tuple[_Keys, str]]:
    named: dict[_Keys, list[str]] = {}
    levels: dict[tuple[str, ...], list[_Keys]] = {}
    for row in comparisons:
        levels.setdefault((row["rig"], row["workload"], row["resolution"]), []).append(_keys(row))
    for held in sorted(claims, key=lambda one: one.verdict != "holds"):
        for cell in held.cells:
            for keys in _levels_of(cell, comparisons, levels):
                named.setdefault(keys, []).append(held.claim.claim)
    for keys, names in named.items():
        unique = list(dict.fromkeys(names))
        more = f" and {len(unique) - _MOST_NAMED} more" if len(unique) > _MOST_NAMED else ""
        yield keys, f"claims rest on it: {', '.join(unique[:_MOST_NAMED])}{more}"


def _levels_of(
    cell: CellKey, comparisons: Sequence[Row], levels: Mapping[tuple[str, ...], list[_Keys]]
) -> list[_Keys]:
    """The levels that a claim's cell compares; of a value or ranking, all of the place."""
    if not cell.contrast:
        return levels.get((cell.rig, cell.workload, cell.resolution), [])
    return [
        _keys(row)
        for row in comparisons
        if (row["rig"], row["workload"], row["resolution"]) == (
            cell.rig, cell.workload, cell.resolution
        )
        and row["contrast"] == cell.contrast
    ]  # fmt: skip


def _of_changes(comparisons: Sequence[Row], metric: str) -> Iterator[tuple[_Keys, str]]:
    held = [row for row in comparisons if row["metric"] == metric and row["size"] == "material"]
    for row in sorted(held, key=lambda row: (-abs(row["change_pct"]), _keys(row))):
        yield _keys(row), f"a material change of {row['change_pct']:+.1f} %"


def _keys(row: Mapping[str, Any]) -> _Keys:
    place = (row["rig"], row["workload"], row["resolution"])
    return ((*place, row["from_level"]), (*place, row["to_level"]))
