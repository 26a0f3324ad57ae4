"""The frame of a re-test: every cell that the change touches, and how well each can be judged."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from rigledger.audit.dated import dated_runs, labels_of
from rigledger.audit.errors import NothingToRetestError
from rigledger.audit.rows import rows
from rigledger.audit.stale import rests
from rigledger.statistics.comparisons import check_settings, fit
from rigledger.statistics.detection import Retest, detection_power, power_at_spread
from rigledger.statistics.outputs import ASSUMED
from rigledger.statistics.spread_data import sort_runs
from rigledger.tables.analysis import run_arrays, settings_of
from rigledger.tables.build import FILLERS
from rigledger.tables.workshop import workshop

if TYPE_CHECKING:
    import datetime as dt
    from collections.abc import Iterator, Mapping

    import duckdb

    from rigledger.audit.change import Announced
    from rigledger.contract import Contract
    from rigledger.statistics.inputs import FloatArray
    from rigledger.statistics.pair_laws import Fitted
    from rigledger.study.model import Design
    from rigledger.tables.workshop import Workshop

FEWEST_RUNS = 2
SPREADS = (0.5, 2.0, 5.0)
"""Run-to-run spreads, in per cent, for which a plan promises its power."""

PLACE = ("contributor", "rig", "workload", "resolution", "level", "stack", "title_build")


@dataclass(frozen=True, slots=True)
class FrameCell:
    """A cell on the old stack; its place is as in `PLACE`.

    Attributes:
        spread_pct: Moderated run-to-run spread.
        power: Chance that the re-test sees it if it moved, one per candidate limit of p.
    """

    contributor: str
    rig: str
    workload: str
    resolution: str
    level: str
    stack: str
    title_build: str
    runs: int
    spread_pct: float
    power: tuple[float, ...]

    @classmethod
    def of(cls, row: Mapping[str, Any], spread_pct: float, power: tuple[float, ...]) -> FrameCell:
        """Make a cell of a row that holds its place and runs, as text or as numbers."""
        place = {name: str(row[name]) for name in PLACE}
        return cls(**place, runs=int(row["runs"]), spread_pct=spread_pct, power=power)

    @property
    def key(self) -> tuple[str, str, str, str]:
        """Rig, workload, resolution, level."""
        return (self.rig, self.workload, self.resolution, self.level)


@dataclass(frozen=True)
class Frame:
    """All cells that can be held against a re-test, and why the others can't.

    Attributes:
        cells: Ordered by key.
        left_out: Rig, workload, resolution, level and the reason, each.
        promised: Power at each spread of `SPREADS`, one row each, the least over contributors.
        basis: Where the session component comes from, by contributor.
    """

    cells: tuple[FrameCell, ...]
    left_out: tuple[tuple[str, ...], ...]
    promised: FloatArray
    basis: tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Study:
    """Tables in a connection, with what they belong to."""

    con: duckdb.DuckDBPyConnection
    design: Design
    contract: Contract


def read_frame(
    study: Study,
    announced: Announced,
    metric: str,
    retest: Retest,
    limits: FloatArray,
    *,
    budget: int,
) -> Frame:
    """List the cells that rest on the old version, with the power of a re-test.

    Args:
        study: A connection that holds the source tables.
        announced: The change.
        metric: The metric on which cells are judged.
        retest: What is run again in a cell.
        limits: Candidate limits of p below which a cell counts as moved.
        budget: How many cells can be run again.

    Raises:
        NothingToRetestError: No cell is left.
    """
    with workshop(study.con, study.design, study.contract, FILLERS) as shop:
        shop.need("measured_cells", "run_labels", "cell_labels", "counted")
        asked = {"metric": metric, "since": announced.change.since}
        touched = [row for row in rows(study.con, "frame", asked) if rests(announced, row)]
        names = {row["contributor"] for row in touched if not _unusable(row, {})}
        models = dict(_models(shop, metric, names, announced.change.since))
    reasons = {_key(row): _unusable(row, models) for row in touched}
    left_out = tuple((*key, reason) for key, reason in reasons.items() if reason)
    usable = [row for row in touched if not reasons[_key(row)]]
    if not usable:
        _refuse_empty(left_out)
    used = {row["contributor"]: models[row["contributor"]] for row in usable}
    part = min(budget / len(usable), 1.0)
    cells: list[FrameCell] = []
    promised: list[FloatArray] = []
    for name, fitted in used.items():
        own = [row for row in usable if row["contributor"] == name]
        again = replace(retest, share=part * len(own) / np.count_nonzero(fitted.data.runs))
        cells += _cells(fitted, own, again, limits)
        promised.append(power_at_spread(fitted, np.array(SPREADS), again, limits))
    return Frame(
        cells=tuple(sorted(cells, key=lambda cell: cell.key)),
        left_out=left_out,
        promised=np.min(promised, axis=0),
        basis=tuple((name, fitted.cell_law.basis) for name, fitted in used.items()),
    )


def _key(row: dict[str, Any]) -> tuple[str, ...]:
    return (row["rig"], row["workload"], row["resolution"], row["level"])


def _unusable(row: dict[str, Any], models: Mapping[str, Fitted]) -> str | None:
    if row["unusable"]:
        return "the level was not in force, or runs have too few frames"
    if row["runs"] < FEWEST_RUNS:
        return "it has fewer than two runs: a shift needs two"
    model = models.get(row["contributor"])
    if model is not None and model.cell_law.basis == ASSUMED:
        return (
            "what a boot alone changes on this contributor's rigs is neither measured nor declared"
        )
    return None


def _refuse_empty(left_out: tuple[tuple[str, ...], ...]) -> None:
    named = f" (the first: {' '.join(left_out[0][:4])}: {left_out[0][4]})" if left_out else ""
    raise NothingToRetestError(
        f"none of the {len(left_out)} touched cells can be held against a re-test{named}",
        next_step="have these cells measured to the required runs, over two sessions or with "
        "sentinels, or declare session_spread_pct in study.toml",
    )


def _models(
    shop: Workshop, metric: str, contributors: set[str], since: dt.date
) -> Iterator[tuple[str, Fitted]]:
    """Fit each contributor's models on what was measured before the change."""
    settings = replace(settings_of(shop, metric), rounds_declared=1)
    check_settings(settings)
    for name in sorted(contributors):
        runs = dated_runs(shop, name, metric, since)
        cells = labels_of(shop, name, metric)
        before = run_arrays(runs.filter(~runs["later"]))
        yield name, fit(sort_runs(before, len(cells.sentinel)), cells, settings)


def _cells(
    fitted: Fitted, held: list[dict[str, Any]], retest: Retest, limits: FloatArray
) -> Iterator[FrameCell]:
    places = np.array([row["place"] for row in held], dtype=np.int64)
    power = detection_power(fitted, places, retest, limits)
    spread = 100.0 * np.sqrt(fitted.variance + fitted.data.floor)[places]
    for row, own, seen in zip(held, spread, power, strict=True):
        yield FrameCell.of(row, round(float(own), 4), tuple(round(float(one), 4) for one in seen))
