"""How likely a re-test is to see that a cell moved: what a plan can promise before it is run.

Outcomes of the re-test are drawn from what is believed of each cell's spread and of sessions, at
fixed low-discrepancy points (the same plan always gets the same promise), and judged by the method
that `stack_shift` uses on the real ones.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincinv, ndtri
from scipy.stats import qmc

from rigledger.statistics.blocks import PaddedBlocks, SharedPasses
from rigledger.statistics.comparison_errors import SettingOutOfRangeError
from rigledger.statistics.linear import sum_by
from rigledger.statistics.mixture import ScaleMixture
from rigledger.statistics.node_variances import PairTask, node_variances
from rigledger.statistics.pair_spread import PairPrior
from rigledger.statistics.session_component import predict
from rigledger.statistics.spread_data import SMALLEST_VARIANCE, SpreadData
from rigledger.statistics.spread_likelihood import normal_approximation

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray, IntArray
    from rigledger.statistics.pair_laws import Fitted

_LOG2_DRAWS = 7
_CHUNK = 16


@dataclass(frozen=True)
class Retest:
    """What is run again in a cell on the new stack.

    Attributes:
        runs: runs in each session, at least 1.
        sessions: sessions, at least 1.
        shift_pct: the shift that is to be seen, in per cent.
    """

    runs: int
    sessions: int
    shift_pct: float


@dataclass(frozen=True)
class _Beliefs:
    """What is known of each cell before the re-test. Shapes (cells,).

    Attributes:
        cavity_mean, cavity_variance: ln σ as all other cells predict it.
        residual_variance: the part of that which two cells alike don't share.
        own_mean, own_variance: ln σ given the cell's own runs.
        runs, sessions, df, squares, floor: of the measured cell.
        share: variance of its mean over its run-to-run variance.
        ln_omega, ln_omega_sd: session-to-session sd.
    """

    cavity_mean: FloatArray
    cavity_variance: FloatArray
    residual_variance: FloatArray
    own_mean: FloatArray
    own_variance: FloatArray
    runs: IntArray
    sessions: IntArray
    df: FloatArray
    squares: FloatArray
    floor: FloatArray
    share: FloatArray
    ln_omega: FloatArray
    ln_omega_sd: FloatArray

    def take(self, rows: IntArray) -> _Beliefs:
        """Some cells."""
        return _Beliefs(*(getattr(self, name)[rows] for name in _Beliefs.__annotations__))


def detection_power(
    fitted: Fitted, cells: IntArray, retest: Retest, limits: FloatArray
) -> FloatArray:
    """Chance that a cell which moved by the stated shift gets a p value of at most each limit.

    Args:
        fitted: the models, fitted on all that was measured.
        cells: positions of the cells to be re-tested; each has runs.
        retest: what is run again.
        limits: limits of p. Shape (limits,).

    Returns:
        Shape (cells, limits).

    Raises:
        SettingOutOfRangeError: the re-test has no runs or no sessions.
    """
    post, data = fitted.spread.posterior, fitted.data
    ln_omega, ln_omega_sd = predict(fitted.cell_law, fitted.variance[cells], [])
    per_session = sum_by(fitted.groups.cell, 1.0 / fitted.groups.runs, len(data.df))
    beliefs = _Beliefs(
        cavity_mean=post.cavity_mean[cells],
        cavity_variance=post.cavity_variance[cells],
        residual_variance=np.full(len(cells), fitted.spread.hyper.residual_sd**2),
        own_mean=post.own_mean[cells],
        own_variance=post.own_variance[cells],
        runs=data.runs[cells],
        sessions=data.sessions[cells],
        df=data.df[cells],
        squares=data.squares[cells],
        floor=data.floor[cells],
        share=per_session[cells] / np.maximum(data.sessions[cells], 1) ** 2,
        ln_omega=ln_omega,
        ln_omega_sd=ln_omega_sd,
    )
    return _power(beliefs, retest, limits, drawn=False)


def power_at_spread(
    fitted: Fitted, spread_pct: FloatArray, retest: Retest, limits: FloatArray
) -> FloatArray:
    """The same for cells of a stated run-to-run spread, measured as the study's cells usually are.

    Args:
        fitted: the models; how well they predict a cell's spread, and the session law, are taken
            from them.
        spread_pct: run-to-run spreads in per cent. Shape (classes,).
        retest: what is run again.
        limits: limits of p. Shape (limits,).

    Returns:
        Shape (classes, limits).

    Raises:
        SettingOutOfRangeError: the re-test has no runs or no sessions.
    """
    post, data, count = fitted.spread.posterior, fitted.data, len(spread_pct)
    told = data.df > 0
    sessions = int(np.median(data.sessions[told])) if np.any(told) else 1
    runs = max(int(np.median(data.runs[told])) if np.any(told) else 1, sessions)
    ln_sd = np.log(spread_pct / 100.0)
    residual = fitted.spread.hyper.residual_sd**2
    typical = float(np.median(post.cavity_variance)) if len(post.cavity_variance) else residual
    ln_omega, ln_omega_sd = predict(fitted.cell_law, np.exp(2.0 * ln_sd), [])
    flat = np.ones(count)
    beliefs = _Beliefs(
        cavity_mean=ln_sd,
        cavity_variance=flat * max(typical, residual),
        residual_variance=flat * residual,
        own_mean=ln_sd,
        own_variance=flat * 0.0,
        runs=np.full(count, runs),
        sessions=np.full(count, sessions),
        df=flat * (runs - sessions),
        squares=flat * 0.0,
        floor=flat * SMALLEST_VARIANCE,
        share=flat / runs,
        ln_omega=ln_omega,
        ln_omega_sd=ln_omega_sd,
    )
    return _power(beliefs, retest, limits, drawn=True)


def _power(beliefs: _Beliefs, retest: Retest, limits: FloatArray, *, drawn: bool) -> FloatArray:
    if retest.runs < 1 or retest.sessions < 1:
        raise SettingOutOfRangeError("retest", -1, "a re-test needs a run and a session")
    points = qmc.Sobol(6, scramble=False).random_base2(_LOG2_DRAWS + 1)[1 : 2**_LOG2_DRAWS + 1]
    places = np.arange(len(beliefs.runs))
    parts = [
        _portion(beliefs.take(rows), points, retest, limits, drawn=drawn)
        for rows in np.split(places, range(_CHUNK, len(places), _CHUNK))
    ]
    return np.concatenate(parts)


def _portion(
    beliefs: _Beliefs, points: FloatArray, retest: Retest, limits: FloatArray, *, drawn: bool
) -> FloatArray:
    cells, draws = len(beliefs.runs), len(points)
    each = beliefs.take(np.repeat(np.arange(cells), draws))
    u = np.tile(points, (cells, 1))
    data, variance = _outcomes(each, retest, u, drawn=drawn)
    error = np.sqrt(variance) * ndtri(u[:, 4])
    shift = np.abs(np.log1p(retest.shift_pct / 100.0) + error)
    p = 2.0 * _law(each, retest, data).upper_tail(shift)
    seen: FloatArray = (p[:, None] <= limits).reshape(cells, draws, -1).mean(axis=1)
    return seen


def _outcomes(
    each: _Beliefs, retest: Retest, u: FloatArray, *, drawn: bool
) -> tuple[SpreadData, FloatArray]:
    """Drawn residual sums of the cell before (first half) and after, and the shift's variance."""
    x_from = each.own_mean + np.sqrt(each.own_variance) * ndtri(u[:, 0])
    shared = np.maximum(each.cavity_variance - each.residual_variance, 0.0)
    gain = shared / each.cavity_variance
    eta = each.cavity_mean + gain * (x_from - each.cavity_mean)
    after_sd = np.sqrt(shared * (1.0 - gain) + each.residual_variance)
    x_to = x_from if drawn else eta + after_sd * ndtri(u[:, 1])
    v_from, v_to = np.exp(2.0 * x_from), np.exp(2.0 * x_to)
    total = retest.runs * retest.sessions
    df_to = np.full(len(x_to), float(total - retest.sessions))
    squares_from = _chi_square(each.df, u[:, 5]) * v_from if drawn else each.squares
    omega2 = np.exp(2.0 * (each.ln_omega + each.ln_omega_sd * ndtri(u[:, 3])))
    variance = (v_from + each.floor) * each.share + (v_to + each.floor) / total
    variance = variance + omega2 * (1.0 / each.sessions + 1.0 / retest.sessions)
    data = SpreadData(
        runs=np.concatenate((each.runs, np.full(len(x_to), total))),
        sessions=np.concatenate((each.sessions, np.full(len(x_to), retest.sessions))),
        df=np.concatenate((each.df, df_to)),
        squares=np.concatenate((squares_from, _chi_square(df_to, u[:, 2]) * (v_to + each.floor))),
        floor=np.tile(each.floor, 2),
        mean=np.zeros(2 * len(x_to)),
    )
    return data, variance


def _chi_square(df: FloatArray, u: FloatArray) -> FloatArray:
    drawn = 2.0 * gammaincinv(np.maximum(df, 1.0) / 2.0, u)
    return np.where(df > 0, drawn, 0.0)


def _prior(each: _Beliefs, data: SpreadData) -> PairPrior:
    """The two cells are alike: they share all but their residuals."""
    count = len(each.runs)
    own = each.cavity_variance + 1e-6
    between = np.maximum(each.cavity_variance - each.residual_variance, 0.0)
    determinant = own**2 - between**2
    precision = np.stack((own, -between, own)) / determinant
    centre, spread = normal_approximation(data.df, data.squares, data.floor)
    first, second = 1.0 / spread[:count], 1.0 / spread[count:]
    aa, ab, bb = precision[0] + first, precision[1], precision[2] + second
    pull = (precision[0] + precision[1]) * each.cavity_mean
    left, right = pull + first * centre[:count], pull + second * centre[count:]
    size = aa * bb - ab**2
    sd = np.sqrt(bb / size)
    slope = -ab / size / sd
    return PairPrior(
        mean_from=each.cavity_mean,
        mean_to=each.cavity_mean,
        precision=precision,
        centre_from=(bb * left - ab * right) / size,
        centre_to=(aa * right - ab * left) / size,
        scale=np.stack((sd, slope, np.sqrt(np.maximum(aa / size - slope**2, 1e-12)))),
    )


def _law(each: _Beliefs, retest: Retest, data: SpreadData) -> ScaleMixture:
    """Mixture of each drawn outcome: one block that holds all sessions of either stack."""
    count = len(each.runs)
    one, nothing = np.ones((count, 1)), np.zeros((count, 1))
    after = one / (retest.runs * retest.sessions)
    blocks = PaddedBlocks(
        used=one > 0,
        change=nothing,
        share_from=each.share[:, None],
        share_to=after,
        share_both=nothing,
        within=one < 0,
        per_session_from=1.0 / each.sessions[:, None],
        per_session_to=one / retest.sessions,
        sessions=(each.sessions + retest.sessions)[:, None],
    )
    omega = np.stack((each.ln_omega, each.ln_omega_sd))
    zero = np.zeros(count)
    task = PairTask(
        cell_from=np.arange(count),
        cell_to=np.arange(count, 2 * count),
        prior=_prior(each, data),
        passes=SharedPasses(zero, zero, zero, zero),
        blocks=blocks,
        rho=np.zeros(1),
        weight=one,
        omega=np.stack((omega, omega, omega)),
        sessions=True,
    )
    variance, weight = node_variances(task, data)
    return ScaleMixture(np.sqrt(variance), weight)
