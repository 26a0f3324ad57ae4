"""Counts with their nouns, as a person writes them."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping


def counted(number: float, one: str, many: str | None = None) -> str:
    """Write a count with its noun: ``1 rig``, ``3 rigs``, ``2 entries``.

    Args:
        number: The count.
        one: The noun for one of them.
        many: The noun for another number; None for ``one`` with an s.
    """
    return f"{number} {one if number == 1 else many or one + 's'}"


def listed(counts: Mapping[str, int]) -> str:
    """List counts by their nouns in the plural: ``1 rig, 2 sessions, 12 measured runs``."""
    return ", ".join(
        counted(number, what.replace("_", " ").removesuffix("s")) for what, number in counts.items()
    )
