"""Every cell by itself: geometric mean, spread as measured and as moderated, interval."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.linear import sum_by
from rigledger.statistics.mixture import ScaleMixture, compress
from rigledger.statistics.outputs import CellStatistics
from rigledger.statistics.pair_laws import cell_units
from rigledger.statistics.rounding import variance_of_mean
from rigledger.statistics.session_component import predict, restricted_log_likelihood
from rigledger.statistics.spread_ep import NODES
from rigledger.statistics.spread_likelihood import log_likelihood

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray, IntArray
    from rigledger.statistics.pair_laws import Fitted
    from rigledger.statistics.session_component import Units

_OMEGA = np.array([-2.4, -1.2, 0.0, 1.2, 2.4])
_CHUNK = 1024


def cell_statistics(fitted: Fitted) -> CellStatistics:
    """One row per cell; see `CellStatistics` for what stands where there is nothing to report."""
    data = fitted.data
    has_mean, has_spread = data.runs > 0, data.df > 0
    one_boot = has_mean & (data.sessions == 1)
    half = _half_widths(fitted, np.flatnonzero(has_mean), boots=False)
    over_boots = np.where(
        one_boot, _half_widths(fitted, np.flatnonzero(one_boot), boots=True), half
    )
    centre = np.exp(data.mean)
    raw = np.sqrt(data.squares / np.maximum(data.df, 1.0))
    return CellStatistics(
        runs=data.runs,
        sessions=data.sessions,
        has_mean=has_mean,
        geometric_mean=np.where(has_mean, centre, 0.0),
        has_raw_spread=has_spread,
        raw_spread_pct=np.where(has_spread, 100.0 * raw, 0.0),
        moderated_spread_pct=100.0 * np.sqrt(fitted.variance + data.floor),
        low95=np.where(has_mean, centre * np.exp(-half), 0.0),
        high95=np.where(has_mean, centre * np.exp(half), 0.0),
        ln_half_over_boots=over_boots,
        boot_share=_boot_share(fitted),
        boot_common=np.full(len(data.df), fitted.cell_law.common),
        ln_sd_mean=fitted.spread.posterior.own_mean,
        ln_sd_sd=np.sqrt(fitted.spread.posterior.own_variance),
        prior_ln_mean=fitted.spread.posterior.cavity_mean,
        prior_ln_sd=np.sqrt(fitted.spread.posterior.cavity_variance),
    )


def _half_widths(fitted: Fitted, rows: IntArray, *, boots: bool) -> FloatArray:
    """Half of each cell's 95 % interval on the ln scale; 0 for cells that are not asked for."""
    half = np.zeros(len(fitted.data.df))
    units = cell_units(fitted.data, fitted.groups, fitted.spread, fitted.variance)
    for portion in np.split(rows, range(_CHUNK, len(rows), _CHUNK)):
        half[portion] = _law(fitted, units, portion, boots=boots).half_width(0.95)
    return half


def _boot_share(fitted: Fitted) -> FloatArray:
    """Share of the error of each cell's mean that boots make, at the mean of ω²."""
    data = fitted.data
    mean, sd = predict(fitted.cell_law, fitted.variance, [])
    boots = np.exp(2.0 * (mean + sd**2)) / np.maximum(data.sessions, 1)
    runs = variance_of_mean(fitted.variance, data.floor, _run_share(fitted))
    share: FloatArray = boots / (boots + runs)
    return share


def _run_share(fitted: Fitted) -> FloatArray:
    """Sum of the squared weights of each cell's runs: sessions count alike."""
    groups, cells = fitted.groups, len(fitted.data.df)
    per_run = sum_by(groups.cell, 1.0 / groups.runs, cells)
    share: FloatArray = per_run / np.maximum(fitted.data.sessions, 1) ** 2
    return share


def _law(fitted: Fitted, units: Units, rows: IntArray, *, boots: bool) -> ScaleMixture:
    """Mixture of the error of each cell's mean over its sessions.

    What a boot changes enters where there are several sessions, or wherever `boots` asks for it.
    """
    data, post = fitted.data, fitted.spread.posterior
    x = post.own_mean[rows, None] + np.sqrt(post.own_variance[rows, None]) * NODES
    deviation = x - post.cavity_mean[rows, None]
    log_weight = log_likelihood(
        x, data.df[rows, None], data.squares[rows, None], data.floor[rows, None]
    ) - 0.5 * (deviation**2 / post.cavity_variance[rows, None])
    v = np.exp(2.0 * x)
    sessions = np.maximum(data.sessions[rows], 1)
    base = variance_of_mean(v, data.floor[rows, None], _run_share(fitted)[rows, None])
    several = (sessions > 1)[:, None] | boots
    mean, sd = predict(fitted.cell_law, fitted.variance[rows], [np.where(several[:, 0], rows, -1)])
    variances, weights = [], []
    for node in _OMEGA:
        omega2 = np.where(several, np.exp(2.0 * (mean + node * sd))[:, None], 0.0)
        variances.append(base + omega2 / sessions[:, None])
        own = _replicates(fitted, units, rows, v, omega2)
        weights.append(log_weight - 0.5 * node**2 + own)
    joined = np.concatenate(weights, axis=1)
    weight = np.exp(joined - joined.max(axis=1)[:, None])
    return compress(np.concatenate(variances, axis=1), weight)


def _replicates(
    fitted: Fitted, units: Units, rows: IntArray, v: FloatArray, omega2: FloatArray
) -> FloatArray | float:
    """What the disagreement of a cell's sessions says about the variances."""
    if units.used.shape[1] < 2:
        return 0.0
    scale = (v + fitted.data.floor[rows, None]) / (fitted.variance[rows] + fitted.data.floor[rows])[
        :, None
    ]
    variance = units.variance[rows].T[:, :, None] * scale + omega2
    value, used = units.value[rows].T[:, :, None], units.used[rows].T[:, :, None]
    return restricted_log_likelihood(value, variance, used)
