"""The hierarchical spread model of one contributor and metric: fit, predict, fall back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.effects import Design, Hyperparameters, make_design
from rigledger.statistics.spread_ep import Posterior, propagate

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.statistics.inputs import FloatArray, IntArray, SpreadPrior
    from rigledger.statistics.spread_data import SpreadData

VERSION = "1"
"""Version of the spread model; raised whenever the same inputs could give other numbers."""

FEWEST_CELLS = 6
"""Fewer cells with a spread of their own can't fit a model; the declared prior is used."""

_MEAN_SD = 10.0
_SCALE = 1.5
_LOWEST, _HIGHEST = float(np.log(0.02)), float(np.log(6.0))
_DIGITS = 4


@dataclass(frozen=True)
class SpreadFit:
    """A fitted (or declared) spread model.

    Attributes:
        basis: `fitted` or `declared`.
        hyper: the hyperparameters.
        design: effects of each cell.
        posterior: what the data make of them.
    """

    basis: str
    hyper: Hyperparameters
    design: Design
    posterior: Posterior


def fit_spread(data: SpreadData, factors: Mapping[str, IntArray], prior: SpreadPrior) -> SpreadFit:
    """Fit the model by marginal likelihood with weak priors (empirical Bayes).

    Each standard deviation gets a penalty ln sd - sd² / (2 × 1.5²): it keeps the fit off zero,
    where the marginal likelihood of few groups often ends (Chung et al. 2013, Psychometrika 78,
    685-709), and off absurdly large values; the likelihood of a hundred cells outweighs it.

    Args:
        data: per cell sums of squares.
        factors: label arrays by factor name.
        prior: the declared prior, used if fewer than `FEWEST_CELLS` cells have a spread.
    """
    cells = len(data.df)
    if np.count_nonzero(data.df) < FEWEST_CELLS:
        return _declared(data, prior)
    from scipy.optimize import minimize  # loaded only where there is something to fit

    design = make_design(factors, cells)
    start = np.log(np.full(len(design.names) + 1, 0.5))
    found = minimize(
        _Objective(data, design, prior),
        start,
        jac=True,
        method="BFGS",
        options={"maxiter": 60, "gtol": max(1e-4, 1e-6 * float(data.df.sum()))},
    )
    # Rounded far below what the data can tell, so that another machine's last digits, magnified by
    # the search, don't reach a published interval.
    hyper = _hyper(np.round(found.x, _DIGITS), prior)
    return SpreadFit("fitted", hyper, design, propagate(data, design, hyper))


class _Objective:
    """Penalised negative log evidence of ln sds, with gradient; starts where it last ended."""

    def __init__(self, data: SpreadData, design: Design, prior: SpreadPrior) -> None:
        self.data, self.design, self.prior = data, design, prior
        self.warm: Posterior | None = None

    def __call__(self, ln_sd: FloatArray) -> tuple[float, FloatArray]:
        hyper = _hyper(ln_sd, self.prior)
        self.warm = propagate(self.data, self.design, hyper, self.warm)
        sd2 = np.exp(2.0 * np.minimum(ln_sd, 5.0)) / _SCALE**2
        penalty = float(np.sum(ln_sd - 0.5 * sd2))
        inside = (ln_sd > _LOWEST) & (ln_sd < _HIGHEST)
        gradient = np.where(inside, self.warm.gradient, 0.0) + 1.0 - sd2
        return -(self.warm.log_evidence + penalty), -gradient


def _hyper(ln_sd: FloatArray, prior: SpreadPrior) -> Hyperparameters:
    sd = np.exp(np.clip(ln_sd, _LOWEST, _HIGHEST))
    return Hyperparameters(sd[:-1], float(sd[-1]), _ln_median(prior), _MEAN_SD)


def _ln_median(prior: SpreadPrior) -> float:
    return float(np.log(prior.median_pct / 100.0))


def _declared(data: SpreadData, prior: SpreadPrior) -> SpreadFit:
    """The declared prior as it stands: known mean, no factors."""
    design = make_design({}, len(data.df))
    hyper = Hyperparameters(np.zeros(0), prior.ln_sd, _ln_median(prior), 1e-3)
    return SpreadFit("declared", hyper, design, propagate(data, design, hyper))
