"""The study.toml of a release: the design as it was used, written from its objects.

It is written anew rather than copied, so that a comment, a shared register or an embargoed name of
the study's own file can't slip into a release.
"""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import tomli_w

if TYPE_CHECKING:
    from rigledger.study.model import Design

_PARTS = (
    "authors", "times", "levels", "contrasts", "platforms", "cards", "workloads", "plan",
    "sentinels", "title_sets", "relations",
)  # fmt: skip


def design_toml(design: Design) -> str:
    """Write a design as the study.toml that ``read_design`` reads back as the same design."""
    held = asdict(design)
    ranges = held.pop("plausible_ranges")
    parts: dict[str, Any] = {name: held.pop(name) for name in _PARTS}
    parts["cards"] = [_card(row) for row in parts["cards"]]
    parts["workloads"] = [_workload(row, ranges) for row in parts["workloads"]]
    text: dict[str, Any] = _stated({"study": held} | parts)
    return tomli_w.dumps(text)


def _card(row: dict[str, Any]) -> dict[str, Any]:
    return {"class" if key == "card_class" else key: value for key, value in row.items()}


def _workload(row: dict[str, Any], ranges: tuple[dict[str, Any], ...]) -> dict[str, Any]:
    plausible: dict[str, dict[str, list[float]]] = {}
    for held in ranges:
        if held["workload"] == row["workload"]:
            by_metric = plausible.setdefault(held["resolution"], {})
            by_metric[held["metric"]] = [held["least"], held["most"]]
    return row | {"plausible": plausible}


def _stated(value: Any) -> Any:  # noqa: ANN401 - any value of the design
    """Leave out what is None or empty: TOML has no null, and what is not stated is the default."""
    if isinstance(value, dict):
        pairs = ((key, _stated(held)) for key, held in value.items())
        return {key: held for key, held in pairs if held is not None and held not in ({}, [])}
    if isinstance(value, list | tuple):
        return [_stated(item) for item in value]
    return value
