"""What a release is expected to be, as data: what great-expectations is asked to check."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from rigledger.study.model import Design

# Common practice, no source: a bench that loses more than this share of its runs has a fault to
# find before it publishes; named here so that a release shows them beside what was found.
MOST_ABORTED_SHARE = 0.1
MOST_EXCLUDED_SHARE = 0.05
TAIL_OF_SPREAD_FACTOR = 5.0
EACH_ITS_OWN = "each row has a key of its own"


@dataclass(frozen=True, slots=True)
class Against:
    """What the earlier release was, as far as this one is held against it.

    Attributes:
        rows: Rows of each of its source tables; empty for a first release.
        lost_pct: Rows of a table that may be lost, in per cent of the earlier ones.
        limits: Quantity, least, most and why, for each quantity that may drift in a band.
    """

    rows: Mapping[str, int] = field(default_factory=dict)
    lost_pct: float = 0.0
    limits: tuple[tuple[str, float, float, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Expectation:
    """One expectation on one table.

    Attributes:
        table: Published table, or query of ``sql/quality``, that it is about.
        kind: Class of great-expectations.
        arguments: Its arguments.
        why: What it guards against, in a sentence.
        gates: Whether a release that fails it does not exist; the others are published as failed.
    """

    table: str
    kind: str
    arguments: Mapping[str, Any]
    why: str
    gates: bool = False
    name: str = field(default="")

    def as_dict(self) -> dict[str, Any]:
        """Give the expectation as JSON values."""
        return {
            "name": self.name,
            "table": self.table,
            "expectation": self.kind,
            "arguments": dict(sorted(self.arguments.items())),
            "why": self.why,
            "gates": self.gates,
        }


def expectations(
    design: Design,
    rows: Mapping[str, int],
    against: Against,
) -> tuple[Expectation, ...]:
    """Give all expectations on a release.

    Args:
        design: The design as published; its material change scales the expectations on spread.
        rows: Rows of each published table and each query of ``sql/quality``.
        against: What the earlier release was.

    Returns:
        The expectations, named, in the order of their names.
    """
    found = [
        *_counts(rows),
        *_losses(against),
        *_drifts(against),
        *(
            item
            for item in (*_keys(), *_runs(), *_cells(design), *_drift())
            if rows.get(item.table)
        ),
    ]
    named = (_with_name(item) for item in found)
    return tuple(sorted(named, key=lambda item: item.name))


def _with_name(item: Expectation) -> Expectation:
    if item.name:
        return item
    about = item.arguments.get("column") or item.arguments.get("column_A") or "rows"
    words = item.arguments.get("value_set", []) if item.kind.endswith("NotBeInSet") else []
    name = ".".join([item.table, str(about), item.kind, *map(str, words)])
    return Expectation(item.table, item.kind, item.arguments, item.why, item.gates, name)


def _of_rows(design: Design) -> Iterator[Expectation]:
    """Give the expectations on rows: on nothing, where there are none."""
    yield from (*_keys(), *_runs(), *_cells(design), *_drift())


def _keys() -> Iterator[Expectation]:
    yield Expectation(
        "table_keys", "ExpectColumnDistinctValuesToBeInSet",
        {"column": "keys", "value_set": [EACH_ITS_OWN]},
        "a row without its key can't be found again, and two rows with one key are one thing"
        " counted twice", gates=True,
    )  # fmt: skip


def _counts(rows: Mapping[str, int]) -> Iterator[Expectation]:
    for name in ("runs", "measurements", "sessions", "cells", "comparisons", "runs_wide"):
        if name in rows:
            yield Expectation(
                name, "ExpectTableRowCountToBeBetween", {"min_value": 1},
                "a release without rows here says nothing",
                gates=name in {"runs", "sessions"},
            )  # fmt: skip


def _drifts(against: Against) -> Iterator[Expectation]:
    for name, least, most, why in against.limits:
        yield Expectation(
            "drift", "ExpectColumnMeanToBeBetween",
            {"column": name, "min_value": least, "max_value": most}, why, name=f"drift.{name}",
        )  # fmt: skip


def _losses(against: Against) -> Iterator[Expectation]:
    for name, count in sorted(against.rows.items()):
        least = count - int(count * against.lost_pct / 100)
        if count:
            yield Expectation(
                name, "ExpectTableRowCountToBeBetween", {"min_value": least},
                f"the earlier release has {count} rows; losing many is a withdrawal or a mistake",
                name=f"{name}.rows.no_fewer_than_before",
            )  # fmt: skip


def _runs() -> Iterator[Expectation]:
    yield Expectation(
        "measured_runs", "ExpectColumnValuesToNotBeInSet",
        {"column": "role", "value_set": ["aborted"], "mostly": 1 - MOST_ABORTED_SHARE},
        "many aborted runs point to a rig or title that doesn't run stably",
    )  # fmt: skip
    yield Expectation(
        "measured_runs", "ExpectColumnValuesToNotBeInSet",
        {"column": "role", "value_set": ["excluded"], "mostly": 1 - MOST_EXCLUDED_SHARE},
        "results that rest on many exclusions rest on the choice of exclusions",
    )  # fmt: skip
    yield Expectation(
        "stated_values", "ExpectColumnValuesToBeInSet",
        {"column": "within_bounds", "value_set": [True]},
        "a value outside its metric's bounds can't have been measured", gates=True,
    )  # fmt: skip


def _cells(design: Design) -> Iterator[Expectation]:
    yield Expectation(
        "planned_cells", "ExpectColumnPairValuesAToBeGreaterThanB",
        {"column_A": "runs", "column_B": "runs_required", "or_equal": True},
        "a cell with fewer runs than the study asks for leaves the matrix unfinished",
    )  # fmt: skip
    quantiles = [
        [None, design.material_change_pct],
        [None, design.material_change_pct * TAIL_OF_SPREAD_FACTOR],
    ]
    yield Expectation(
        "cell_spread", "ExpectColumnQuantileValuesToBeBetween",
        {
            "column": "spread_pct", "allow_relative_error": "linear",
            "quantile_ranges": {"quantiles": [0.5, 0.95], "value_ranges": quantiles},
        },
        "where the usual spread exceeds the change that matters, three runs settle little",
    )  # fmt: skip


def _drift() -> Iterator[Expectation]:
    yield Expectation(
        "unexplained_changes", "ExpectColumnValuesToBeInSet",
        {"column": "explained", "value_set": ["corrected"]},
        "a published value may change by a declared correction or a new set, never silently",
    )  # fmt: skip
