"""How likely a re-test is to see that a cell moved: what a plan can promise before it is run.

Outcomes of the re-test are drawn from what is believed of each cell's spread and of sessions, at
fixed low-discrepancy points (the same plan always gets the same promise), and judged by the method
that `stack_shift` uses on the real ones. That method will know more than is known now: the runs of
all re-tested cells tell of the spreads too, and what they will tell is reckoned with.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincinv, ndtr, ndtri, polygamma
from scipy.stats import qmc

from rigledger.statistics.blocks import PaddedBlocks, SharedPasses
from rigledger.statistics.comparison_errors import SettingOutOfRangeError
from rigledger.statistics.effects import combine, eta_covariance
from rigledger.statistics.linear import sum_by
from rigledger.statistics.mixture import compress
from rigledger.statistics.node_variances import PairTask, node_variances
from rigledger.statistics.pair_spread import PairPrior
from rigledger.statistics.session_component import predict
from rigledger.statistics.spread_data import SMALLEST_VARIANCE, SpreadData
from rigledger.statistics.spread_likelihood import normal_approximation

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray, IntArray
    from rigledger.statistics.pair_laws import Fitted

_LOG2_DRAWS = 4
_CHUNK = 16
_OMEGA, _hermite = np.polynomial.hermite_e.hermegauss(7)
_OMEGA_WEIGHT = _hermite / _hermite.sum()


@dataclass(frozen=True)
class Retest:
    """What is run again in a cell on the new stack.

    Attributes:
        runs: runs in each session, at least 1.
        sessions: sessions, at least 1.
        shift_pct: the shift that is to be seen, in per cent.
        share: share of the measured cells that are run again, 0 to 1: their runs, too, tell how
            far runs of a title or a rig spread.
    """

    runs: int
    sessions: int
    shift_pct: float
    share: float = 1.0


@dataclass(frozen=True)
class _Beliefs:
    """What is known of each cell before the re-test. Shapes (cells,).

    Attributes:
        cavity_mean, cavity_variance: ln σ as all other cells predict it.
        later_variance: the same after the re-test.
        residual_variance: the part of both that which two cells alike don't share.
        own_mean, own_variance: ln σ given the cell's own runs.
        runs, sessions, df, squares, floor: of the measured cell.
        share: variance of its mean over its run-to-run variance.
        ln_omega, ln_omega_sd: session-to-session sd.
    """

    cavity_mean: FloatArray
    cavity_variance: FloatArray
    later_variance: FloatArray
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

    def usual(self) -> _Beliefs:
        """One row: the lower median of each column."""
        middle = (len(self.runs) - 1) // 2
        return _Beliefs(
            *(np.sort(getattr(self, name))[[middle]] for name in _Beliefs.__annotations__)
        )


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
        SettingOutOfRangeError: the re-test has no runs or no sessions, or its share is none.
    """
    _check(retest)
    return _power(_beliefs(fitted, cells, retest), retest, limits)


def power_at_spread(
    fitted: Fitted, spread_pct: FloatArray, retest: Retest, limits: FloatArray
) -> FloatArray:
    """The same for cells whose moderated spread is as stated, known as well as the study's usually.

    Args:
        fitted: the models; how well they know a cell's spread, and the session law, are taken from
            them.
        spread_pct: moderated run-to-run spreads in per cent. Shape (classes,).
        retest: what is run again.
        limits: limits of p. Shape (limits,).

    Returns:
        Shape (classes, limits).

    Raises:
        SettingOutOfRangeError: the re-test has no runs or no sessions, or its share is none.
    """
    _check(retest)
    told = fitted.data.df > 0
    usual = _beliefs(fitted, np.flatnonzero(told if np.any(told) else ~told), retest).usual()
    ln_sd, flat = np.log(spread_pct / 100.0), np.zeros(len(spread_pct), dtype=np.int64)
    ln_omega, ln_omega_sd = predict(fitted.cell_law, np.exp(2.0 * ln_sd), [])
    beliefs = replace(
        usual.take(flat),
        cavity_mean=ln_sd,
        own_mean=ln_sd,
        squares=usual.df[flat] * np.exp(2.0 * ln_sd),
        floor=np.full(len(flat), SMALLEST_VARIANCE),
        ln_omega=ln_omega,
        ln_omega_sd=ln_omega_sd,
    )
    return _power(beliefs, retest, limits)


def _beliefs(fitted: Fitted, cells: IntArray, retest: Retest) -> _Beliefs:
    post, data = fitted.spread.posterior, fitted.data
    ln_omega, ln_omega_sd = predict(fitted.cell_law, fitted.variance[cells], [])
    return _Beliefs(
        cavity_mean=post.cavity_mean[cells],
        cavity_variance=post.cavity_variance[cells],
        later_variance=_later_variance(fitted, retest)[cells],
        residual_variance=np.full(len(cells), fitted.spread.hyper.residual_sd**2),
        own_mean=post.own_mean[cells],
        own_variance=post.own_variance[cells],
        runs=data.runs[cells],
        sessions=data.sessions[cells],
        df=data.df[cells],
        squares=data.squares[cells],
        floor=data.floor[cells],
        share=_shares(fitted)[cells],
        ln_omega=ln_omega,
        ln_omega_sd=ln_omega_sd,
    )


def _check(retest: Retest) -> None:
    if retest.runs < 1 or retest.sessions < 1:
        raise SettingOutOfRangeError("retest", -1, "a re-test needs a run and a session")
    if not 0.0 <= retest.share <= 1.0:
        raise SettingOutOfRangeError("retest.share", -1, f"{retest.share!r} is no share")


def _shares(fitted: Fitted) -> FloatArray:
    """Variance of each cell's mean over sessions, over its run-to-run variance."""
    groups, sessions = fitted.groups, fitted.data.sessions
    per_session = sum_by(groups.cell, 1.0 / groups.runs, len(sessions))
    shares: FloatArray = per_session / np.maximum(sessions, 1) ** 2
    return shares


def _later_variance(fitted: Fitted, retest: Retest) -> FloatArray:
    """Variance of ln σ as all other cells will predict it once the re-test's runs are in.

    A re-tested cell tells of the effects as much as its degrees of freedom do; which cells will be
    drawn isn't known yet, so each tells its share of that.
    """
    spread, df = fitted.spread, retest.sessions * (retest.runs - 1)
    before, residual = spread.posterior, spread.hyper.residual_sd**2
    if df < 1:
        return before.cavity_variance
    told = retest.share / (residual + 0.25 * float(polygamma(1, 0.5 * df)))
    site = before.site_precision + np.where(fitted.data.runs > 0, told, 0.0)
    effects = combine(spread.design, spread.hyper, site, np.zeros_like(site))
    eta = eta_covariance(spread.design, spread.design, effects)
    others = 1.0 / np.maximum(1.0 / eta - site, 1e-10)
    return np.minimum(others + residual, before.cavity_variance)


def _power(beliefs: _Beliefs, retest: Retest, limits: FloatArray) -> FloatArray:
    # The net's points lie at the lower ends of their steps: half a step puts them in the middle.
    points = qmc.Sobol(5, scramble=False).random_base2(_LOG2_DRAWS) + 0.5 / 2**_LOG2_DRAWS
    places = np.arange(len(beliefs.runs))
    parts = [
        _portion(beliefs.take(rows), points, retest, limits)
        for rows in np.split(places, range(_CHUNK, len(places), _CHUNK))
    ]
    return np.concatenate(parts)


def _portion(
    beliefs: _Beliefs, points: FloatArray, retest: Retest, limits: FloatArray
) -> FloatArray:
    """Mean over drawn spreads and residuals; given those, the chance is a sum of normal tails."""
    cells, draws = len(beliefs.runs), len(points)
    each, z = beliefs.take(np.repeat(np.arange(cells), draws)), ndtri(np.tile(points, (cells, 1)))
    each, data, sd = _outcomes(each, retest, z)
    law = compress(*_law(each, retest, data))
    shift = np.log1p(retest.shift_pct / 100.0)
    seen = np.empty((len(sd), len(limits)))
    for place, limit in enumerate(limits):
        needed = law.half_width(1.0 - limit)[:, None]
        tails = ndtr((shift - needed) / sd) + ndtr(-(shift + needed) / sd)
        seen[:, place] = tails @ _OMEGA_WEIGHT
    chance: FloatArray = seen.reshape(cells, draws, -1).mean(axis=1)
    return chance


def _outcomes(
    each: _Beliefs, retest: Retest, z: FloatArray
) -> tuple[_Beliefs, SpreadData, FloatArray]:
    """Draw the residuals of a cell before and after, and what the other cells will say of it.

    Returns:
        The beliefs with that; the residual sums (first half before, second after); the sd of the
        shift at each node of the session component, shape (rows, nodes).
    """
    x_from = each.own_mean + np.sqrt(each.own_variance) * z[:, 0]
    x_to, later = _after(each, x_from, z)
    v_from, v_to = np.exp(2.0 * x_from), np.exp(2.0 * x_to)
    total = retest.runs * retest.sessions
    df_to = np.full(len(x_to), float(total - retest.sessions))
    variance = (v_from + each.floor) * each.share + (v_to + each.floor) / total
    omega2 = np.exp(2.0 * (each.ln_omega[:, None] + each.ln_omega_sd[:, None] * _OMEGA))
    added = omega2 * (1.0 / each.sessions + 1.0 / retest.sessions)[:, None]
    data = SpreadData(
        runs=np.concatenate((each.runs, np.full(len(x_to), total))),
        sessions=np.concatenate((each.sessions, np.full(len(x_to), retest.sessions))),
        df=np.concatenate((each.df, df_to)),
        squares=np.concatenate((each.squares, _chi_square(df_to, z[:, 2]) * (v_to + each.floor))),
        floor=np.tile(each.floor, 2),
        mean=np.zeros(2 * len(x_to)),
    )
    return replace(each, cavity_mean=later), data, np.sqrt(variance[:, None] + added)


def _after(each: _Beliefs, x_from: FloatArray, z: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Draw ln σ on the new stack, and how the other cells will predict it then.

    What cells alike share is one variable η on both stacks: drawn given the old ln σ. The re-test
    of the others brings their prediction nearer to it, by as much as its variance falls.
    """
    residual = each.residual_variance
    shared = np.maximum(each.cavity_variance - residual, 1e-12)
    gain = shared / (shared + residual)
    eta = each.cavity_mean + gain * (x_from - each.cavity_mean)
    eta = eta + np.sqrt(shared * (1.0 - gain)) * z[:, 3]
    nearer = np.clip((each.cavity_variance - each.later_variance) / shared, 0.0, 1.0)
    later = each.cavity_mean + nearer * (eta - each.cavity_mean)
    later = later + np.sqrt(shared * nearer * (1.0 - nearer)) * z[:, 4]
    return eta + np.sqrt(residual) * z[:, 1], later


def _chi_square(df: FloatArray, z: FloatArray) -> FloatArray:
    drawn = 2.0 * gammaincinv(np.maximum(df, 1.0) / 2.0, ndtr(z))
    return np.where(df > 0, drawn, 0.0)


def _prior(each: _Beliefs, data: SpreadData) -> PairPrior:
    """The two cells are alike: they share all but their residuals."""
    count = len(each.runs)
    own = each.later_variance + 1e-6
    between = np.maximum(each.later_variance - each.residual_variance, 0.0)
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


def _law(each: _Beliefs, retest: Retest, data: SpreadData) -> tuple[FloatArray, FloatArray]:
    """Variances and weights by outcome: one block that holds all sessions of either stack."""
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
    return node_variances(task, data)
