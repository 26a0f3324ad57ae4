"""The effects planted in this study, read from the file that is kept beside the tests."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path


@dataclass(frozen=True, slots=True)
class Cell:
    """What a planted effect may depend on."""

    platform: str
    card: str
    workload: str
    resolution: str
    level: str
    driver: str = ""


@dataclass(frozen=True, slots=True)
class Planted:
    """One planted effect: its scope (None: all) and the change of each metric in per cent.

    It is the effect of its level against x16; the level `all` is what a driver did to every level.
    """

    because: str
    level: str
    change_pct: Mapping[str, float]
    platforms: tuple[str, ...] | None = None
    cards: tuple[str, ...] | None = None
    workloads: tuple[str, ...] | None = None
    resolutions: tuple[str, ...] | None = None
    drivers: tuple[str, ...] | None = None

    def fits(self, cell: Cell) -> bool:
        """Say whether a cell lies in the scope."""
        scopes = (
            (self.platforms, cell.platform),
            (self.cards, cell.card),
            (self.workloads, cell.workload),
            (self.resolutions, cell.resolution),
            (self.drivers, cell.driver),
        )
        return self.level in {"all", cell.level} and all(
            names is None or name in names for names, name in scopes
        )


def read_planted(path: Path, part: str = "planted") -> tuple[Planted, ...]:
    """Read the truth file: the effects ``planted``, or what the later driver ``moved``.

    Raises:
        TypeError: An entry has a key that isn't known, or lacks one.
    """
    held = tomllib.loads(path.read_text(encoding="utf-8"))
    return tuple(Planted(**_frozen(entry)) for entry in held[part])


def planted_change_pct(planted: Sequence[Planted], cell: Cell, metric: str) -> float:
    """Give the true change of a cell in per cent; the last entry that fits counts."""
    fitting = [entry for entry in planted if entry.fits(cell)]
    return float(fitting[-1].change_pct[metric]) if fitting else 0.0


def _frozen(entry: dict[str, Any]) -> dict[str, Any]:
    return {key: tuple(held) if isinstance(held, list) else held for key, held in entry.items()}
