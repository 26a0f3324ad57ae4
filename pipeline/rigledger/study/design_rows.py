"""Turns a design into rows of the source tables that study.toml fills."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.contract import Contract
    from rigledger.study.model import Design

DESIGN_TABLES = (
    "cards", "contrasts", "levels", "metrics", "plausible_ranges", "platforms", "workloads",
)  # fmt: skip
# A column whose name is a word of the language.
_ATTRIBUTES = {"class": "card_class"}


def design_rows(design: Design, contract: Contract) -> dict[str, list[dict[str, Any]]]:
    """Give the rows of the source tables that come from study.toml and the contract.

    Args:
        design: The study's design.
        contract: The contract; gives columns and their order, and the metrics (all of them, so
            that a value of a further metric in a set finds its row).

    Returns:
        Table name to rows, keys in the contract's order, rows ordered by primary key.
    """
    held: dict[str, Iterable[Any]] = {
        "levels": design.levels,
        "contrasts": design.contrasts,
        "workloads": design.workloads,
        "plausible_ranges": design.plausible_ranges,
        "metrics": contract.metrics.values(),
        "platforms": design.platforms,
        "cards": design.cards,
    }
    return {name: _rows(contract, name, held[name]) for name in DESIGN_TABLES}


def _rows(contract: Contract, name: str, items: Iterable[Any]) -> list[dict[str, Any]]:
    table = contract.table("source", name)
    picked = [
        {name: getattr(item, _ATTRIBUTES.get(name, name)) for name in table.field_names}
        for item in items
    ]
    return sorted(picked, key=lambda row: tuple(row[key] for key in table.primary_key))
