"""The session-to-session component: how far apart two boots lie that differ in nothing else.

ω² = absolute² + (ratio × σ)²: quiet cells move by an amount that has nothing to do with their own
run-to-run spread, noisy ones move in proportion to it. Single cells scatter about that law, normal
in ln ω. Both parameters are integrated over a grid with weak priors, never plugged in: two sessions
of one sentinel say little, and the interval must know that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.outputs import ASSUMED, DECLARED, ROUNDS, SENTINELS, SessionComponent
from rigledger.statistics.session_events import common_share, own_evidence, shared_sessions

if TYPE_CHECKING:
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray

LN_ABSOLUTE = np.linspace(np.log(0.0002), np.log(0.4), 14)
LN_RATIO = np.linspace(np.log(0.05), np.log(12.0), 11)
HETEROGENEITY = 0.35
"""Standard deviation of ln ω of single cells about the law."""

_PRIOR_ABSOLUTE, _PRIOR_ABSOLUTE_SD = float(np.log(0.004)), 1.3
_PRIOR_RATIO, _PRIOR_RATIO_SD = float(np.log(0.6)), 1.0
_ASSUMED_PCT, _ASSUMED_LN_SD = 1.0, 1.0
_NODE, _NODE_WEIGHT = np.array([-1.0, 0.0, 1.0]) * np.sqrt(3.0), np.array([1.0, 4.0, 1.0]) / 6.0
_CHUNK = 1024
MOST_UNITS = 2000
"""More units than this add nothing to the law; every so many are taken then, in order."""
FEWEST = 3
"""Degrees of freedom from which a measured component is preferred to a declared one."""


@dataclass(frozen=True)
class Units:
    """What repeats: a cell's session means, or a comparison's changes by session.

    Attributes:
        value: one number per session. Shape (units, sessions); unused places anything.
        used: which places hold a number.
        variance: its run-to-run variance, at the centre of the spread posterior.
        ln_sd: uncertainty of ln of that variance's square root. Shape (units,).
        reference: the run-to-run variance σ² to which `ratio` refers. Shape (units,).
        together: the same number for units seen in the same sessions. Shape (units,).
    """

    value: FloatArray
    used: BoolArray
    variance: FloatArray
    ln_sd: FloatArray
    reference: FloatArray
    together: IntArray


@dataclass(frozen=True)
class SessionLaw:
    """Posterior of the law over the grid (flattened), and each unit's own log likelihood.

    Attributes:
        basis: measured_sentinels, measured_rounds, declared or assumed.
        absolute, ratio: grid values (of sd, not ln). Shape (grid,).
        log_weight: log posterior. Shape (grid,).
        own: each unit's part in it. Shape (units, grid).
        ln_sd: scatter of single units about the law.
        df: sessions beyond each unit's first.
        common: share of a session's shift that its cells have in common; 1 where nothing tells.
    """

    basis: str
    absolute: FloatArray
    ratio: FloatArray
    log_weight: FloatArray
    own: FloatArray
    ln_sd: float
    df: int
    common: float = 1.0


def restricted_log_likelihood(
    value: FloatArray, variance: FloatArray, used: BoolArray
) -> FloatArray:
    """Log likelihood of independent normal values with one unknown mean, integrated over it.

    (Patterson and Thompson 1971.) The first axis runs over the values (short, so that the sums run
    over long arrays); where fewer than two are used the result is 0.
    """
    if len(variance) == len(used) and used.all():
        precision = logged = 1.0 / variance
    else:
        precision = np.where(used, 1.0 / np.where(used, variance, 1.0), 0.0)
        logged = np.where(used, precision, 1.0)
    total = precision.sum(axis=0)
    safe = np.where(total > 0, total, 1.0)
    mean = (precision * value).sum(axis=0) / safe
    squares = (precision * (value - mean) ** 2).sum(axis=0)
    full = 0.5 * (np.log(logged).sum(axis=0) - np.log(safe) - squares)
    return np.where(used.sum(axis=0) >= 2, full, 0.0)


def fit_law(units: Units, sentinel: BoolArray, declared_pct: float | None) -> SessionLaw:
    """Posterior of the session law from units with two sessions or more.

    Measured where there are at least `FEWEST` degrees of freedom; else declared, if the study
    declares one; else from the few there are; else assumed (median 1 %, ln sd 1).
    """
    told = units.used.sum(axis=1) >= 2
    df = int(units.used[told].sum() - np.count_nonzero(told))
    if df == 0 or (df < FEWEST and declared_pct is not None):
        return _not_measured(len(told), declared_pct)
    absolute = np.repeat(np.exp(LN_ABSOLUTE), len(LN_RATIO))
    ratio = np.tile(np.exp(LN_RATIO), len(LN_ABSOLUTE))
    own = _own(units, absolute, ratio)
    best = int(np.argmax(own.sum(axis=0)))
    law = absolute[best] ** 2 + ratio[best] ** 2 * units.reference
    shared = shared_sessions(units, np.any(own != 0.0, axis=1), law)
    own *= own_evidence(shared)[:, None]
    basis = SENTINELS if bool(np.all(sentinel[told])) else ROUNDS
    log_prior = -0.5 * ((np.log(absolute) - _PRIOR_ABSOLUTE) / _PRIOR_ABSOLUTE_SD) ** 2
    log_prior -= 0.5 * ((np.log(ratio) - _PRIOR_RATIO) / _PRIOR_RATIO_SD) ** 2
    log_weight = log_prior + own.sum(axis=0)
    common = common_share(shared)
    return SessionLaw(basis, absolute, ratio, log_weight, own, HETEROGENEITY, df, common)


def _not_measured(units: int, declared_pct: float | None) -> SessionLaw:
    basis, sd = (ASSUMED, _ASSUMED_LN_SD) if declared_pct is None else (DECLARED, 0.0)
    level = _ASSUMED_PCT if declared_pct is None else declared_pct
    one = np.ones(1)
    return SessionLaw(
        basis, one * level / 100.0, one * 0.0, np.zeros(1), np.zeros((units, 1)), sd, 0
    )


def _own(units: Units, absolute: FloatArray, ratio: FloatArray) -> FloatArray:
    """Log likelihood of each unit at each grid point, its own scatter and spread integrated."""
    own = np.zeros((len(units.reference), len(absolute)))
    told = np.flatnonzero(units.used.sum(axis=1) >= 2)
    told = told[:: -(-len(told) // MOST_UNITS) or 1]
    for rows in np.split(told, range(_CHUNK, len(told), _CHUNK)):
        own[rows] = _own_of(units, rows, absolute, ratio)
    return own


def _own_of(units: Units, told: IntArray, absolute: FloatArray, ratio: FloatArray) -> FloatArray:
    """The same for some units, in portions that stay in the processor's cache."""
    own = np.zeros((len(told), len(absolute)))
    value = units.value[told].T[:, :, None, None]
    used = units.used[told].T[:, :, None, None]
    scale = np.exp(2.0 * _NODE * units.ln_sd[told][:, None])
    base = units.variance[told].T[:, :, None, None] * scale[:, :, None]
    reference = units.reference[told][:, None] * scale
    log_node = np.log(_NODE_WEIGHT)[:, None] + np.log(_NODE_WEIGHT)
    scatter = np.exp(2.0 * HETEROGENEITY * _NODE)
    for g in range(len(absolute)):
        omega2 = absolute[g] ** 2 + ratio[g] ** 2 * reference
        between = omega2[:, :, None] * scatter
        each = restricted_log_likelihood(value, base + between, used) + log_node
        flat = each.reshape(len(told), -1)
        top = flat.max(axis=1)
        own[:, g] = top + np.log(np.exp(flat - top[:, None]).sum(axis=1))
    return own


def predict(
    law: SessionLaw, reference: FloatArray, leave_out: list[IntArray]
) -> tuple[FloatArray, FloatArray]:
    """Mean and sd of ln ω for cells (or changes) with run-to-run variance `reference`.

    Args:
        law: the fitted law.
        reference: run-to-run variance σ². Shape (n,).
        leave_out: units whose own data must not count, as arrays of positions of shape (n,) with
            -1 for none: those data enter by themselves later.
    """
    log_weight = np.repeat(law.log_weight[None], len(reference), axis=0)
    for units in leave_out:
        out = units >= 0
        log_weight[out] -= law.own[units[out]]
    weight = np.exp(log_weight - log_weight.max(axis=1)[:, None])
    weight /= weight.sum(axis=1)[:, None]
    ln_omega = 0.5 * np.log(law.absolute**2 + law.ratio**2 * reference[:, None])
    mean = (weight * ln_omega).sum(axis=1)
    variance = (weight * (ln_omega - mean[:, None]) ** 2).sum(axis=1)
    return mean, np.sqrt(variance + law.ln_sd**2)


def describe(law: SessionLaw) -> SessionComponent:
    """The law as plain numbers: posterior medians would need the grid, so exp(mean of ln)."""
    weight = np.exp(law.log_weight - law.log_weight.max())
    weight /= weight.sum()
    ratio = np.where(law.ratio > 0, law.ratio, 1.0)
    return SessionComponent(
        absolute_pct=100.0 * float(np.exp(np.sum(weight * np.log(law.absolute)))),
        ratio=float(np.exp(np.sum(weight * np.log(ratio)))) * float(np.any(law.ratio > 0)),
        ln_sd=law.ln_sd,
        degrees_of_freedom=law.df,
        basis=law.basis,
        common_share=law.common,
    )
