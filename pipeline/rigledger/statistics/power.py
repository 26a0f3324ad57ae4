"""What a planned sheet can be expected to show, before a run is measured.

Studies are drawn from what is believed of the cells' spread, at fixed low-discrepancy points (so
the same plan always gets the same answer), and judged by the very method that will judge the data.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincinv, ndtri
from scipy.stats import qmc

from rigledger.statistics.blocks import PaddedBlocks, SharedPasses
from rigledger.statistics.comparison_errors import SettingOutOfRangeError
from rigledger.statistics.mixture import ScaleMixture, compress
from rigledger.statistics.node_variances import PairTask, node_variances
from rigledger.statistics.outputs import NOT_REACHABLE
from rigledger.statistics.pair_spread import PairPrior
from rigledger.statistics.spread_data import SMALLEST_VARIANCE, SpreadData
from rigledger.statistics.spread_likelihood import normal_approximation
from rigledger.statistics.verdicts import ALPHA, p_values

if TYPE_CHECKING:
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray, Settings

_LOG2_DRAWS = 7
_CHUNK = 2048


@dataclass(frozen=True)
class Planned:
    """Planned comparisons. Shapes (plans,).

    Attributes:
        ln_sd_mean, ln_sd_sd: what is believed of ln σ of one run in either cell (see
            `CellStatistics`; average the two cells where they differ).
        runs: runs per level and session, at least 1.
        sessions: sessions (of each level, where levels need their own), at least 1.
        ln_session_mean, ln_session_sd: ln of the session-to-session sd of the change of one
            session; -inf where no session component enters.
        ln_change: the true change to be found, of ln(value).
    """

    ln_sd_mean: FloatArray
    ln_sd_sd: FloatArray
    runs: IntArray
    sessions: IntArray
    ln_session_mean: FloatArray
    ln_session_sd: FloatArray
    ln_change: FloatArray


@dataclass(frozen=True)
class Expected:
    """What the plan is worth. Shapes (plans,).

    Attributes:
        half_width: median half-width of the 95 % interval on the ln scale.
        shown: chance that the right direction is shown (of any, where nothing changes).
        material, immaterial: chance of that verdict.
    """

    half_width: FloatArray
    shown: FloatArray
    material: FloatArray
    immaterial: FloatArray


def expected(planned: Planned, settings: Settings) -> Expected:
    """Judge each planned comparison over 128 drawn outcomes.

    Raises:
        SettingOutOfRangeError: a plan has no runs or no sessions.
    """
    bad = np.flatnonzero((planned.runs < 1) | (planned.sessions < 1))
    if bad.size:
        raise SettingOutOfRangeError("planned.runs", int(bad[0]), "a plan needs a run and session")
    points = qmc.Sobol(6, scramble=False).random_base2(_LOG2_DRAWS + 1)[1 : 2**_LOG2_DRAWS + 1]
    rows = max(_CHUNK // len(points), 1)
    places = np.arange(len(planned.runs))
    parts = [
        _judge(_take(planned, portion), points, settings)
        for portion in np.split(places, range(rows, len(places), rows))
    ]
    return Expected(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def _take(planned: Planned, rows: IntArray) -> Planned:
    return Planned(*(np.asarray(getattr(planned, name))[rows] for name in _FIELDS))


_FIELDS = (
    "ln_sd_mean",
    "ln_sd_sd",
    "runs",
    "sessions",
    "ln_session_mean",
    "ln_session_sd",
    "ln_change",
)


def _judge(
    planned: Planned, points: FloatArray, settings: Settings
) -> tuple[FloatArray, FloatArray, FloatArray, FloatArray]:
    draws = len(points)
    each = _take(planned, np.repeat(np.arange(len(planned.runs)), draws))
    u = np.tile(points, (len(planned.runs), 1))
    data, variance = _draw(each, u)
    change = each.ln_change + np.sqrt(variance) * ndtri(u[:, 5])
    law = _law(each, data)
    p = p_values(change, law, each.sessions, settings)
    right = np.where(each.ln_change == 0, 1.0, np.sign(each.ln_change) * np.sign(change)) > 0

    def rate(hits: BoolArray) -> FloatArray:
        share: FloatArray = hits.reshape(-1, draws).mean(axis=1)
        return share

    half: FloatArray = np.median(law.half_width(0.95).reshape(-1, draws), axis=1)
    return (
        half,
        rate((p.direction <= ALPHA) & right),
        rate(p.material <= ALPHA),
        rate((p.immaterial <= ALPHA) & (p.material > ALPHA)),
    )


def _draw(each: Planned, u: FloatArray) -> tuple[SpreadData, FloatArray]:
    """Drawn sums of squares of both cells (from first, then to), and the change's true variance."""
    count = len(each.runs)
    df = (each.sessions * (each.runs - 1)).astype(np.float64)
    variances, squares = [], []
    for side in (0, 1):
        x = each.ln_sd_mean + each.ln_sd_sd * ndtri(u[:, side])
        variances.append(np.exp(2.0 * x))
        chi2 = 2.0 * gammaincinv(np.maximum(df, 1.0) / 2.0, u[:, 2 + side])
        squares.append(np.where(df > 0, chi2, 0.0) * variances[side])
    omega2 = np.exp(2.0 * (each.ln_session_mean + each.ln_session_sd * ndtri(u[:, 4])))
    total = each.sessions * each.runs
    variance = (variances[0] + variances[1]) / total + omega2 / each.sessions
    data = SpreadData(
        runs=np.tile(total, 2),
        sessions=np.tile(each.sessions, 2),
        df=np.tile(df, 2),
        squares=np.concatenate(squares),
        floor=np.full(2 * count, SMALLEST_VARIANCE),
        mean=np.zeros(2 * count),
    )
    return data, variance


def _prior(each: Planned, data: SpreadData) -> PairPrior:
    """Two independent cells with the same prior; nodes where prior and likelihood overlap."""
    count = len(each.runs)
    precision = 1.0 / each.ln_sd_sd**2
    centre, spread = normal_approximation(data.df, data.squares, data.floor)
    updated = 1.0 / (np.tile(precision, 2) + 1.0 / spread)
    middle = updated * (np.tile(precision * each.ln_sd_mean, 2) + centre / spread)
    zero = np.zeros(count)
    scale = np.stack((np.sqrt(updated[:count]), zero, np.sqrt(updated[count:])))
    return PairPrior(
        mean_from=each.ln_sd_mean,
        mean_to=each.ln_sd_mean,
        precision=np.stack((precision, zero, precision)),
        centre_from=middle[:count],
        centre_to=middle[count:],
        scale=scale,
    )


def _law(each: Planned, data: SpreadData) -> ScaleMixture:
    """Mixture of each drawn outcome: one block that stands for all sessions together."""
    count = len(each.runs)
    share = (1.0 / (each.runs * each.sessions))[:, None]
    one, zero = np.ones((count, 1)), np.zeros((count, 1))
    entering = np.isfinite(each.ln_session_mean)
    mean = np.where(entering, each.ln_session_mean, -40.0) - 0.5 * np.log(each.sessions)
    omega = np.stack((mean, np.where(entering, each.ln_session_sd, 0.0)))
    nothing = np.zeros(count)
    task = PairTask(
        cell_from=np.arange(count),
        cell_to=np.arange(count, 2 * count),
        prior=_prior(each, data),
        passes=SharedPasses(nothing, nothing, nothing, nothing),
        blocks=PaddedBlocks(
            one > 0, zero, share, share, zero, one > 0, zero, zero, np.ones((count, 1), np.int64)
        ),
        rho=np.zeros(1),
        weight=one,
        omega=np.stack((omega, omega, omega)),
        sessions=bool(np.any(entering)),
    )
    return compress(*node_variances(task, data))


def runs_for_half_width(
    planned: Planned, wanted: FloatArray, settings: Settings, most: int = 20
) -> IntArray:
    """Fewest runs per level and session whose expected half-width is at most `wanted`.

    Args:
        planned: the plans; their `runs` are ignored.
        wanted: half-width of the 95 % interval on the ln scale. Shape (plans,).
        settings: what the study declares.
        most: give up beyond this (`NOT_REACHABLE`): more sessions are needed then.
    """
    answer = np.full(len(planned.runs), NOT_REACHABLE)
    open_rows = np.arange(len(planned.runs))
    for runs in range(1, most + 1):
        rows = _take(planned, open_rows)
        half = expected(replace(rows, runs=np.full(len(open_rows), runs)), settings).half_width
        done = half <= wanted[open_rows]
        answer[open_rows[done]] = runs
        open_rows = open_rows[~done]
        if not len(open_rows):
            break
    return answer
