"""The one way in: from runs, cells and pairs of one contributor and metric to all results.

What odd inputs give:

* a cell with one run: its spread comes from the model (or the declared prior) alone;
* a cell with no run: `CellStatistics.has_mean` is False; a pair that names it raises
  `CellWithoutRunsError`;
* two runs: one degree of freedom, nothing special;
* no spread at all (all runs equal): the spread stays above zero by the prior, and the mean is
  never thought better known than reported_step² / 12;
* one pair only, or few cells: the declared prior takes the model's place (`basis` says so);
* a pair whose cells share neither a session nor a round: all their sessions are one block, and
  the row is a comparison between sessions;
* no pair, or no cell at all: empty arrays;
* values that are not finite and positive: `ValueNotPositiveError`.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.cell_statistics import cell_statistics
from rigledger.statistics.comparison_errors import (
    ArrayShapeError,
    CellWithoutRunsError,
    IndexOutOfRangeError,
    SettingOutOfRangeError,
)
from rigledger.statistics.comparison_rows import comparison_rows
from rigledger.statistics.inputs import CellArrays, PairArrays, RunArrays, Settings, SpreadPrior
from rigledger.statistics.known_fits import known_fit
from rigledger.statistics.outputs import (
    Analysis,
    CellStatistics,
    ComparisonArrays,
    SessionComponent,
    SpreadModel,
)
from rigledger.statistics.pair_laws import Fitted, PairLaws, cell_units, pair_laws
from rigledger.statistics.sequential import MOST_ROUNDS
from rigledger.statistics.session_component import describe, fit_law
from rigledger.statistics.spread import VERSION, fit_spread
from rigledger.statistics.spread_data import SortedRuns, group_by_session, sort_runs, summarise

if TYPE_CHECKING:
    from rigledger.statistics.inputs import IntArray

__all__ = [
    "Analysis",
    "CellArrays",
    "CellStatistics",
    "ComparisonArrays",
    "PairArrays",
    "RunArrays",
    "SessionComponent",
    "Settings",
    "SpreadModel",
    "SpreadPrior",
    "analyse",
    "check_settings",
    "fit",
]


def analyse(runs: RunArrays, cells: CellArrays, pairs: PairArrays, settings: Settings) -> Analysis:
    """Fit the spread model and judge every cell and pair of one contributor and metric.

    The result depends on nothing but the arguments: not on the order of rows, other contributors'
    data, or the number of threads.

    Args:
        runs: measured and sentinel runs.
        cells: factor labels of the cells, and which are sentinels.
        pairs: the comparisons.
        settings: what the study declared.

    Returns:
        The model, one row per cell, one row per pair.

    Raises:
        ComparisonInputError: one of its subclasses, naming array and position.
    """
    check_settings(settings)
    _check_cells(cells)
    ordered = sort_runs(runs, len(cells.sentinel))
    fitted = fit(ordered, cells, settings)
    _check_pairs(pairs, fitted.data.runs)
    laws = pair_laws(fitted, ordered, pairs, settings)
    return Analysis(
        model=_describe_model(fitted, laws),
        cells=cell_statistics(fitted),
        comparisons=comparison_rows(fitted, ordered, pairs, laws, settings),
    )


def fit(runs: SortedRuns, cells: CellArrays, settings: Settings) -> Fitted:
    """Everything that is estimated from the cells alone: spread model and session law."""
    return known_fit(runs, cells, settings, lambda: _fit(runs, cells, settings))


def _fit(runs: SortedRuns, cells: CellArrays, settings: Settings) -> Fitted:
    groups = group_by_session(runs)
    data = summarise(runs, groups, len(cells.sentinel))
    spread = fit_spread(data, cells.factors, settings.spread_prior)
    variance = np.exp(2.0 * spread.posterior.own_mean)
    units = cell_units(data, groups, spread, variance)
    sentinel = np.asarray(cells.sentinel, dtype=bool)
    law = fit_law(units, sentinel, settings.session_spread_pct)
    return Fitted(data, groups, spread, variance, law)


def check_settings(settings: Settings) -> None:
    """Refuse settings outside the range in which the formulas hold.

    Raises:
        SettingOutOfRangeError: naming the setting.
    """
    prior, declared = settings.spread_prior, settings.session_spread_pct
    ranges = {
        "material_change_pct": (settings.material_change_pct, 0.0, 100.0),
        "spread_prior.median_pct": (prior.median_pct, 0.0, 1000.0),
        "spread_prior.ln_sd": (prior.ln_sd, 0.0, 10.0),
        "session_spread_pct": (1.0 if declared is None else declared, 0.0, 1000.0),
        "rounds_declared": (settings.rounds_declared, 0.0, MOST_ROUNDS + 0.5),
    }
    for name, (value, low, high) in ranges.items():
        if not low < value < high:
            raise SettingOutOfRangeError(name, -1, f"{value} is not between {low} and {high}")


def _check_cells(cells: CellArrays) -> None:
    for name, labels in cells.factors.items():
        if np.shape(labels) != np.shape(cells.sentinel):
            found = f"shape {np.shape(labels)}, but sentinel has {np.shape(cells.sentinel)}"
            raise ArrayShapeError(f"cells.factors[{name!r}]", -1, found)


def _check_pairs(pairs: PairArrays, runs: IntArray) -> None:
    if np.shape(pairs.from_cell) != np.shape(pairs.to_cell):
        found = f"{np.shape(pairs.from_cell)} and {np.shape(pairs.to_cell)}"
        raise ArrayShapeError("pairs", -1, found)
    for name in ("from_cell", "to_cell"):
        _check_side(f"pairs.{name}", getattr(pairs, name), runs)


def _check_side(name: str, cell: IntArray, runs: IntArray) -> None:
    bad = np.flatnonzero((cell < 0) | (cell >= len(runs)))
    if bad.size:
        found = f"cell {cell[bad[0]]}, but there are {len(runs)} cells"
        raise IndexOutOfRangeError(name, int(bad[0]), found)
    bad = np.flatnonzero(runs[cell] == 0)
    if bad.size:
        found = f"cell {cell[bad[0]]} has no run"
        step = "leave out pairs with a side that has no run"
        raise CellWithoutRunsError(name, int(bad[0]), found, step)


def _describe_model(fitted: Fitted, laws: PairLaws) -> SpreadModel:
    spread, hyper = fitted.spread, fitted.spread.hyper
    sd = [float(value) for value in hyper.factor_sd]
    return SpreadModel(
        version=VERSION,
        basis=spread.basis,
        cells=int(np.count_nonzero(fitted.data.df)),
        degrees_of_freedom=int(fitted.data.df.sum()),
        median_spread_pct=100.0 * float(np.exp(spread.posterior.effects.mean[0])),
        mean_ln_sd_se=float(np.sqrt(spread.posterior.effects.covariance[0, 0])),
        factor_ln_sd=dict(zip(spread.design.names, sd, strict=True)),
        residual_ln_sd=hyper.residual_sd,
        pass_share=laws.pass_share.mean,
        pass_share_sd=laws.pass_share.sd,
        pass_pairs=laws.pass_share.pairs,
        cell_sessions=describe(fitted.cell_law),
        change_sessions=describe(laws.change_law),
    )
