"""The live warnings of a kit's workbook, as rules over cells."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.contract import Metric
    from rigledger.study.kit_model import Kit, KitTable

Area = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class CellWarning:
    """One conditional format.

    Attributes:
        kind: ``blank`` where something is still to be typed, ``doubt`` where something looks wrong.
        area: First row, first column, last row, last column, from 0.
        rule: The rule in the spreadsheet writer's words, without its format.
    """

    kind: Literal["blank", "doubt"]
    area: Area
    rule: dict[str, Any]


def warnings_of(kit: Kit, held: KitTable, last: int) -> Iterable[CellWarning]:
    """Give the warnings of one sheet, the gravest first.

    Args:
        kit: The kit.
        held: The table of the sheet; its header is row 0.
        last: Last row with formats.
    """
    if held.name == "runs":
        yield from _lows_above_average(kit, held, last)
        yield from _implausible(kit, held)
        yield from _blank_numbers(kit, held)
    yield from _blanks(held, last)


def _blanks(held: KitTable, last: int) -> Iterable[CellWarning]:
    """Mark required cells that are blank in rows that are in use."""
    for place, column in enumerate(held.columns):
        if column.required:
            formula = f'=AND($A2<>"",ISBLANK({_letter(place)}2))'
            yield CellWarning("blank", (1, place, last, place), _formula(formula))


def _blank_numbers(kit: Kit, held: KitTable) -> Iterable[CellWarning]:
    """Mark numbers that are still to be typed: those that a run's workload requires."""
    role = _letter(held.place("role"))
    for metric in kit.design.all_metrics:
        asking = {item.workload for item in kit.design.workloads if metric in item.metrics}
        place = held.place(metric)
        rows = [n for n, row in enumerate(held.rows, start=1) if row["workload"] in asking]
        for first, last in _stretches(rows):
            used = f'OR(${role}{first + 1}="measured",${role}{first + 1}="sentinel")'
            formula = f"=AND({used},ISBLANK({_letter(place)}{first + 1}))"
            yield CellWarning("blank", (first, place, last, place), _formula(formula))


def _lows_above_average(kit: Kit, held: KitTable, last: int) -> Iterable[CellWarning]:
    """Mark a value of a slow tail above the mean of the whole run in the same unit."""
    shown = [kit.contract.metrics[name] for name in kit.design.all_metrics]
    for low in shown:
        for mean in shown:
            if _is_tail_of(low, mean):
                place = held.place(low.metric)
                one, other = _letter(place), _letter(held.place(mean.metric))
                formula = f"=AND(ISNUMBER({one}2),ISNUMBER(${other}2),{one}2>${other}2)"
                yield CellWarning("doubt", (1, place, last, place), _formula(formula))


def _is_tail_of(low: Metric, mean: Metric) -> bool:
    return (
        low.tail_pct is not None
        and mean.tail_rule == "none"
        and mean.weighting == "time"
        and low.unit == mean.unit
        and low.direction == mean.direction == "higher"
    )


def _implausible(kit: Kit, held: KitTable) -> Iterable[CellWarning]:
    """Mark values outside the study's plausible range of their workload and resolution."""
    for limits in kit.design.plausible_ranges:
        if limits.metric not in kit.design.all_metrics:
            continue
        place = held.place(limits.metric)
        rows = [
            number
            for number, row in enumerate(held.rows, start=1)
            if (row["workload"], row["resolution"]) == (limits.workload, limits.resolution)
        ]
        for first, last in _stretches(rows):
            cell = f"{_letter(place)}{first + 1}"
            formula = f"=AND(ISNUMBER({cell}),OR({cell}<{limits.least!r},{cell}>{limits.most!r}))"
            yield CellWarning("doubt", (first, place, last, place), _formula(formula))


def _stretches(rows: list[int]) -> Iterable[tuple[int, int]]:
    """Join neighbouring rows: [2, 3, 4, 9] gives (2, 4), (9, 9)."""
    start = 0
    for place in range(1, len(rows) + 1):
        if place == len(rows) or rows[place] != rows[place - 1] + 1:
            yield rows[start], rows[place - 1]
            start = place


def _formula(text: str) -> dict[str, Any]:
    return {"type": "formula", "criteria": text}


def _letter(place: int) -> str:
    from xlsxwriter.utility import xl_col_to_name

    return str(xl_col_to_name(place))
