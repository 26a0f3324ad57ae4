"""Joins the statistics in: one call per contributor and metric, results as tables of ``work``."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.remembered import key_of, versions_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    import polars as pl

    from rigledger.statistics.inputs import (
        BoolArray,
        CellArrays,
        PairArrays,
        RunArrays,
        Settings,
    )
    from rigledger.statistics.outputs import CellStatistics
    from rigledger.tables.results import Rows
    from rigledger.tables.workshop import Workshop

FACTORS = ("rig", "workload", "resolution", "level")
"""What explains that cells differ in spread."""

FALSE_ALARM_RATE = 0.05
"""Chance that a contributor's clean runs, over all their metrics, raise any doubt at all."""

MOST_RUNS = 20_000
"""Of parts with more runs it is not remembered what they came to: it would take much room."""

STATISTICS = "statistics.json"
"""File in which a study keeps what they came to."""

_PACKAGES = ("numpy", "polars", "scipy")


@dataclass(frozen=True)
class Part:
    """Runs, cells and pairs of one contributor and metric, each ordered by its own number."""

    contributor: str
    metric: str
    runs: pl.DataFrame
    cells: pl.DataFrame
    pairs: pl.DataFrame

    @property
    def names(self) -> dict[str, str]:
        """Contributor and metric, as the leading columns of a result."""
        return {"contributor": self.contributor, "metric": self.metric}

    @property
    def sha256(self) -> str:
        """Hash of all that it holds."""
        digest = hashlib.sha256(repr(self.names).encode("utf-8"))
        for frame in (self.runs, self.cells, self.pairs):
            for column in frame.iter_columns():
                text = f"{column.name} {column.dtype} {column.to_list()!r}\n"
                digest.update(text.encode("utf-8"))
        return digest.hexdigest()


def fill_statistics(shop: Workshop) -> None:
    """Fill ``cell_statistics``, ``pair_statistics``, ``spread_parameters`` and ``doubtful_runs``.

    Each contributor and metric is one call that sees no other, so that nobody's set can move
    another's intervals.
    """
    from rigledger.tables.results import CollectedResults

    collected = CollectedResults()
    parts = list(_parts(shop))
    for part in parts:
        metrics = sum(other.contributor == part.contributor for other in parts)
        collected.add(_rows_of(shop, part, FALSE_ALARM_RATE / metrics))
    for name, frame in collected.frames().items():
        shop.fill(name, frame)


def _rows_of(shop: Workshop, part: Part, rate: float) -> Rows:
    """Give the rows of a part: as remembered, or found now and remembered."""
    from rigledger.tables.results import as_plain, as_rows

    settings = settings_of(shop, part.metric)
    if shop.remembered is None or part.runs.height > MOST_RUNS:
        return _analyse(part, settings, rate)
    key = key_of("statistics", part.sha256, repr(settings), rate, versions_of(*_PACKAGES))
    return as_rows(shop.remembered.recall(key, lambda: as_plain(_analyse(part, settings, rate))))


def settings_of(shop: Workshop, metric: str) -> Settings:
    """Give what the study declares, for one metric.

    The planned rounds are measured whatever they show; each round that may be added is a further
    look at the result, and the intervals pay for it.
    """
    from rigledger.statistics.inputs import Settings, SpreadPrior

    design = shop.design
    prior = design.spread_prior_pct
    return Settings(
        better_when=shop.contract.metric(metric).direction,
        material_change_pct=design.material_change_pct,
        rounds_declared=1 + design.rounds_may_be_added,
        session_spread_pct=design.session_spread_pct,
        spread_prior=SpreadPrior() if prior is None else SpreadPrior(median_pct=prior),
    )


def _parts(shop: Workshop) -> Iterator[Part]:
    frames = {
        name: _split(shop.frame(f"select * from work.{name} order by contributor, metric, {key}"))
        for name, key in (("run_labels", "run"), ("cell_labels", "cell"), ("pair_labels", "pair"))
    }
    no_pairs = shop.frame("select * from work.pair_labels limit 0")
    for (contributor, metric), runs in frames["run_labels"].items():
        cells = frames["cell_labels"][contributor, metric]
        pairs = frames["pair_labels"].get((contributor, metric), no_pairs)
        yield Part(contributor, metric, runs, cells, pairs)


def _split(frame: pl.DataFrame) -> dict[tuple[str, str], pl.DataFrame]:
    held = frame.partition_by("contributor", "metric", as_dict=True, maintain_order=True)
    return {(str(key[0]), str(key[1])): part for key, part in held.items()}


def _analyse(part: Part, settings: Settings, rate: float) -> Rows:
    from rigledger.statistics.comparisons import analyse
    from rigledger.tables.results import rows_of

    runs = run_arrays(part.runs)
    analysis = analyse(runs, cell_arrays(part.cells), pair_arrays(part.pairs), settings)
    doubtful = _doubtful(runs, analysis.cells, rate)
    return rows_of(part, analysis, part.runs["run"].filter(doubtful))


def run_arrays(runs: pl.DataFrame) -> RunArrays:
    """Turn rows of ``work.run_labels`` into arrays."""
    from rigledger.statistics.comparisons import RunArrays

    return RunArrays(
        value=runs["value"].to_numpy(),
        cell=runs["cell"].to_numpy(),
        session=runs["session"].to_numpy(),
        round=runs["round"].to_numpy(),
        pass_index=runs["pass_block"].to_numpy(),
        reported_step=runs["reported_step"].to_numpy(),
    )


def cell_arrays(cells: pl.DataFrame) -> CellArrays:
    """Turn rows of ``work.cell_labels`` into arrays."""
    from rigledger.statistics.comparisons import CellArrays

    factors = {name: cells[name].to_numpy() for name in FACTORS}
    return CellArrays(factors=factors, sentinel=cells["sentinel"].to_numpy())


def pair_arrays(pairs: pl.DataFrame) -> PairArrays:
    """Turn rows of ``work.pair_labels`` into arrays."""
    from rigledger.statistics.comparisons import PairArrays

    return PairArrays(pairs["from_cell"].to_numpy(), pairs["to_cell"].to_numpy())


def _doubtful(runs: RunArrays, cells: CellStatistics, rate: float) -> BoolArray:
    """Hold each run against its cell's other runs and what the other cells say of their spread."""
    import numpy as np

    from rigledger.statistics.doubt import LogNormalSpread, doubtful_runs

    return doubtful_runs(
        np.log(runs.value),
        runs.cell,
        runs.session,
        LogNormalSpread(cells.prior_ln_mean, cells.prior_ln_sd),
        ln_step=runs.reported_step / runs.value,
        study_wide_rate=rate,
    ).doubtful
