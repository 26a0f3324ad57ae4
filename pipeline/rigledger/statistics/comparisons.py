"""The one way in: from runs, cells and pairs of one contributor and metric to all results.

What odd inputs give:

* a cell with one run: its spread comes from the model (or the declared prior) alone;
* a cell with no run: `CellStatistics.has_mean` is False; a pair that names it raises
  `CellWithoutRunsError`;
* two runs: one degree of freedom, nothing special;
* no spread at all (all runs equal): the spread stays above zero by the prior, and the mean is
  never thought better known than reported_step² / 12;
* one pair only, or few cells: the declared prior takes the model's place (`basis` says so);
* a pair whose cells share neither a session nor a round: `LevelsNeverMeetError`;
* values that are not finite and positive: `ValueNotPositiveError`.
"""

from __future__ import annotations

from rigledger.statistics.inputs import (
    CellArrays,
    PairArrays,
    RunArrays,
    Settings,
    SpreadPrior,
)
from rigledger.statistics.outputs import (
    Analysis,
    CellStatistics,
    ComparisonArrays,
    SessionComponent,
    SpreadModel,
)

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
        StatisticsError: one of its subclasses, naming array and position.
    """
    raise NotImplementedError
