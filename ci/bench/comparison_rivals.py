"""What the method is held against: the oracle, Welch, and closed-form moderation.

The oracle is the same mixture interval with the true law of the spread known.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from comparison_studies import MEDIAN_SD

from rigledger.statistics.comparisons import ComparisonArrays, Settings, analyse, fit
from rigledger.statistics.effects import Hyperparameters, make_design
from rigledger.statistics.moderation import fit_prior, moderated_t
from rigledger.statistics.pair_laws import pair_laws
from rigledger.statistics.spread import SpreadFit
from rigledger.statistics.spread_data import sort_runs
from rigledger.statistics.spread_ep import propagate
from rigledger.statistics.student import difference

if TYPE_CHECKING:
    from comparison_studies import FloatArray, Study


@dataclass(frozen=True)
class Intervals:
    """Estimates and half-widths on the ln scale, one per comparison."""

    change: FloatArray
    half: FloatArray

    def covers(self, truth: FloatArray) -> FloatArray:
        """1 where the interval holds the truth, else 0."""
        return (np.abs(self.change - truth) <= self.half).astype(float)


def half_width(rows: ComparisonArrays) -> FloatArray:
    """Half the width of the published 95 % interval, on the ln scale."""
    half: FloatArray = np.log1p(rows.high95 / 100.0) - rows.ln_change
    return half


def method(study: Study, settings: Settings) -> tuple[Intervals, ComparisonArrays]:
    """The method as it is used."""
    rows = analyse(study.runs, study.cells, study.pairs, settings).comparisons
    return Intervals(rows.ln_change, half_width(rows)), rows


def oracle(study: Study, settings: Settings) -> Intervals:
    """The method with the true law of the spread in place of the fitted one."""
    runs = sort_runs(study.runs, len(study.cells.sentinel))
    fitted = fit(runs, study.cells, settings)
    design = make_design(study.cells.factors, len(study.cells.sentinel))
    sd = np.array([study.factor_sd[name] for name in design.names])
    hyper = Hyperparameters(sd, study.residual_sd, float(np.log(MEDIAN_SD)), 1e-3)
    known = SpreadFit("known", hyper, design, propagate(fitted.data, design, hyper))
    variance = np.exp(2.0 * known.posterior.own_mean)
    laws = pair_laws(replace(fitted, spread=known, variance=variance), runs, study.pairs, settings)
    return Intervals(laws.change, laws.law.half_width(0.95))


def _rows(study: Study) -> tuple[FloatArray, FloatArray]:
    y = np.log(study.runs.value).reshape(len(study.sd), -1)
    return y[::2], y[1::2]


def welch(study: Study) -> Intervals:
    """Welch's interval for each comparison by itself."""
    result = difference(*_rows(study))
    return Intervals(result.estimate, result.half_width(0.95))


def closed_form(study: Study, *, per_workload: bool) -> Intervals:
    """Moderation in closed form: pooled variance of a pair, one global prior or one a workload."""
    off, on = _rows(study)
    n = off.shape[1]
    s2 = 0.5 * (off.var(axis=1, ddof=1) + on.var(axis=1, ddof=1))
    df, change = np.full(len(s2), 2.0 * (n - 1)), on.mean(axis=1) - off.mean(axis=1)
    workload = study.cells.factors["workload"][::2] if per_workload else np.zeros(len(s2), int)
    half = np.zeros(len(s2))
    for label in np.unique(workload):
        rows = workload == label
        prior = fit_prior(s2[rows], df[rows])
        scale = np.full(rows.sum(), 2.0 / n)
        half[rows] = moderated_t(change[rows], scale, s2[rows], df[rows], prior).half_width
    return Intervals(change, half)


def pooled(study: Study) -> Intervals:
    """One variance for all cells of the study."""
    off, on = _rows(study)
    n = off.shape[1]
    variance = 0.5 * float(np.mean(off.var(axis=1, ddof=1) + on.var(axis=1, ddof=1)))
    return Intervals(
        on.mean(axis=1) - off.mean(axis=1), np.full(len(off), 1.96 * np.sqrt(2 * variance / n))
    )
