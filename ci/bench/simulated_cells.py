"""Simulated studies for the benchmarks of doubt and of factor effects.

Every cell has normal errors; ln sigma of a cell is the workload's, plus the rig's, plus a
residual. Values may be rounded to a reported step.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.comparisons import (
    CellArrays,
    ComparisonArrays,
    PairArrays,
    RunArrays,
    Settings,
    analyse,
)
from rigledger.statistics.doubt import LogNormalSpread
from rigledger.statistics.inputs import SpreadPrior
from rigledger.statistics.spread import fit_spread
from rigledger.statistics.spread_data import SpreadData

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rigledger.statistics.outputs import Analysis

    FloatArray = NDArray[np.float64]
    IntArray = NDArray[np.int64]


@dataclass(frozen=True)
class Law:
    """How a study is drawn.

    Attributes:
        workloads, platforms, cards, runs: its size; two levels each.
        between: sd of ln sigma between workloads.
        within: sd of ln sigma between the cells of one workload.
        rigs: sd of ln sigma between rigs.
        spread: median spread, on the ln scale.
        step: reported step in fps; 0 for none.
        tails: 0 for normal errors, else degrees of freedom of Student's t.
    """

    workloads: int = 30
    platforms: int = 4
    cards: int = 2
    runs: int = 3
    between: float = 1.2
    within: float = 0.4
    rigs: float = 0.0
    spread: float = 0.02
    step: float = 0.0
    tails: float = 0.0


@dataclass(frozen=True)
class Study:
    """A drawn study: fps of shape (cells, runs), and labels of shape (cells,)."""

    fps: FloatArray
    sigma: FloatArray
    workload: IntArray
    rig: IntArray
    level: IntArray
    step: float

    @property
    def ln(self) -> FloatArray:
        """Natural logarithm of fps."""
        return np.asarray(np.log(self.fps))

    @property
    def cells(self) -> int:
        """Number of cells."""
        return int(self.fps.shape[0])


def draw(rng: np.random.Generator, law: Law, centres: FloatArray | None = None) -> Study:
    """Draws a study in which the setting does nothing.

    Args:
        rng: Where chance comes from.
        law: How it is drawn.
        centres: ln of the true frame rate without the setting, shape (workloads, rigs); None for
            rates that have nothing to do with each other.
    """
    rigs = law.platforms * law.cards
    shape = (law.workloads, rigs, 2)
    workload, rig, level = (grid.reshape(-1) for grid in np.indices(shape))
    ln_sigma = (
        np.log(law.spread)
        + rng.normal(0, law.between, law.workloads)[workload]
        + rng.normal(0, law.rigs, rigs)[rig]
        + rng.normal(0, law.within, workload.size)
    )
    sigma = np.exp(ln_sigma)
    centre = np.repeat(np.log(rng.uniform(40, 200, law.workloads * rigs)), 2)
    if centres is not None:
        centre = centres[workload, rig]
    fps = np.exp(centre[:, None] + sigma[:, None] * _errors(rng, law, workload.size))
    return Study(rounded(fps, law.step), sigma, workload, rig, level, law.step)


def _errors(rng: np.random.Generator, law: Law, cells: int) -> FloatArray:
    if not law.tails:
        return rng.standard_normal((cells, law.runs))
    scale = (law.tails / (law.tails - 2)) ** 0.5
    return rng.standard_t(law.tails, (cells, law.runs)) / scale


def rounded(fps: FloatArray, step: float) -> FloatArray:
    """Rounds to the reported step, never to zero."""
    return np.maximum(np.round(fps / step), 1.0) * step if step else fps


def analysed(study: Study) -> ComparisonArrays:
    """Runs the real pipeline: spread model, then one comparison per workload and rig."""
    return analysis_of(study).comparisons


def analysis_of(study: Study) -> Analysis:
    """Runs the real pipeline; gives its cells too."""
    runs = study.fps.shape[1]
    cell = np.repeat(np.arange(study.cells), runs)
    count = cell.size
    arrays = RunArrays(
        value=study.fps.reshape(-1),
        cell=cell,
        session=study.rig[cell],
        round=np.zeros(count, dtype=np.int64),
        pass_index=np.full(count, -1),
        reported_step=np.full(count, study.step),
    )
    factors = {"workload": study.workload, "rig": study.rig, "level": study.level}
    cells = CellArrays(factors, np.zeros(study.cells, dtype=bool))
    pairs = PairArrays(np.arange(0, study.cells, 2), np.arange(1, study.cells, 2))
    return analyse(arrays, cells, pairs, Settings())


def spread_of_others(study: Study, used: NDArray[np.bool_]) -> LogNormalSpread:
    """Fits the spread model to some runs; gives each cell's spread as other cells predict it."""
    keep = used.reshape(study.fps.shape)
    runs = keep.sum(axis=1)
    mean = (study.ln * keep).sum(axis=1) / np.maximum(runs, 1)
    data = SpreadData(
        runs=runs,
        sessions=np.minimum(runs, 1),
        df=np.maximum(runs - 1.0, 0.0),
        squares=(((study.ln - mean[:, None]) * keep) ** 2).sum(axis=1),
        floor=((study.step / study.fps) ** 2 / 12).mean(axis=1),
        mean=mean,
    )
    factors = {"workload": study.workload, "rig": study.rig}
    posterior = fit_spread(data, factors, SpreadPrior()).posterior
    return LogNormalSpread(posterior.cavity_mean, np.sqrt(posterior.cavity_variance))
