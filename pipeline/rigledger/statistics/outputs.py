"""What the statistics hand back: one frozen record of arrays per derived table."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray

    TextArray = NDArray[np.str_]

NOT_REACHABLE = -1
"""Stands in `runs_still_needed` and `sessions_still_needed` for *more than is worth planning*."""

WITHIN, BETWEEN, MIXED = "within_sessions", "between_sessions", "mixed"
SENTINELS, ROUNDS, DECLARED, ASSUMED, NONE = (
    "measured_sentinels",
    "measured_rounds",
    "declared",
    "assumed",
    "none",
)
GAIN, LOSS, NOT_SHOWN = "gain", "loss", "not_shown"
MATERIAL, IMMATERIAL, UNSETTLED = "material", "immaterial", "unsettled"
NO_VERDICT = "no_verdict"


@dataclass(frozen=True)
class SessionComponent:
    """The fitted session-to-session standard deviation: ω² = absolute² + (ratio × σ)².

    Attributes:
        absolute_pct: part that is the same for quiet and noisy cells, in per cent.
        ratio: part proportional to the run-to-run σ of the cell or of the change.
        ln_sd: how much single cells differ from this law, as a standard deviation of ln ω.
        degrees_of_freedom: sessions beyond the first, summed over the units it was fitted on.
        basis: measured_sentinels, measured_rounds, declared or assumed.
        common_share: share of a session's shift that its cells have in common, 0 to 1; 1 where
            nothing tells.
    """

    absolute_pct: float
    ratio: float
    ln_sd: float
    degrees_of_freedom: int
    basis: str
    common_share: float = 1.0


@dataclass(frozen=True)
class SpreadModel:
    """The fitted prior behind all intervals of one contributor and metric: plain numbers.

    ln σ of a cell = mean + one effect per factor label + residual; effects and residual are
    normal with the standard deviations given here.

    Attributes:
        version: version of the model; it changes when the same inputs could give other numbers.
        basis: `fitted`, or `declared` where the set is too small.
        cells: number of cells that informed the fit (two runs or more in one session).
        degrees_of_freedom: residual degrees of freedom over these cells.
        median_spread_pct: exp(mean of ln σ), in per cent.
        mean_ln_sd_se: standard error of that mean.
        factor_ln_sd: standard deviation of each factor's effects on ln σ, by factor; dropped
            factors are missing.
        residual_ln_sd: standard deviation of the residual of ln σ.
        pass_share: ρ, the share of run-to-run variance common to a pass (posterior mean).
        pass_share_sd: its posterior standard deviation.
        pass_pairs: number of comparisons that informed it.
        cell_sessions: session component of a cell's level.
        change_sessions: session component of a change measured within sessions.
    """

    version: str
    basis: str
    cells: int
    degrees_of_freedom: int
    median_spread_pct: float
    mean_ln_sd_se: float
    factor_ln_sd: dict[str, float]
    residual_ln_sd: float
    pass_share: float
    pass_share_sd: float
    pass_pairs: int
    cell_sessions: SessionComponent
    change_sessions: SessionComponent


@dataclass(frozen=True)
class CellStatistics:
    """One row per cell of `CellArrays`; every array has shape (cells,) and holds no NaN.

    Where a number doesn't exist its `has_` mask is False and the number is 0.

    Attributes:
        runs: number of runs.
        sessions: number of sessions.
        has_mean: at least one run.
        geometric_mean: in the metric's unit.
        has_raw_spread: at least two runs in one session.
        raw_spread_pct: pooled within-session standard deviation of ln(value), in per cent.
        moderated_spread_pct: posterior median of σ, rounding included, in per cent.
        low95: lower end of the 95 % interval of the geometric mean: within the session where
            there is one, over sessions where there are more. In the metric's unit.
        high95: its upper end.
        ln_half_over_boots: half of the 95 % interval of ln of the mean over boots, also where there
            is one session only: what a comparison with another rig needs.
        boot_share: share of that error's variance that boots make and not runs.
        boot_common: share of a boot's shift that all cells of the session have in common.
        ln_sd_mean: posterior mean of ln σ of one run, without rounding; of a cell without runs,
            what the model predicts. Planning starts from it.
        ln_sd_sd: its posterior standard deviation.
        prior_ln_mean: ln σ of the cell as the *other* cells predict it: what a doubt about one of
            its runs is held against.
        prior_ln_sd: its standard deviation.
    """

    runs: IntArray
    sessions: IntArray
    has_mean: BoolArray
    geometric_mean: FloatArray
    has_raw_spread: BoolArray
    raw_spread_pct: FloatArray
    moderated_spread_pct: FloatArray
    low95: FloatArray
    high95: FloatArray
    ln_half_over_boots: FloatArray
    boot_share: FloatArray
    boot_common: FloatArray
    prior_ln_mean: FloatArray
    prior_ln_sd: FloatArray
    ln_sd_mean: FloatArray
    ln_sd_sd: FloatArray


@dataclass(frozen=True)
class ComparisonArrays:
    """One row per pair of `PairArrays`; every array has shape (pairs,) and holds no NaN.

    Attributes:
        change_pct: 100 (exp(change of ln) - 1), summarised over blocks.
        low95, high95: 95 % interval, in per cent.
        low90, high90: 90 % interval, in per cent: the two one-sided tests at 5 %.
        low_decision, high_decision: the interval on which `direction` and `material` rest. It is
            the 95 % interval where one round is declared, wider where more are.
        decision_level_pct: its nominal level.
        ln_change: the change on the ln scale, as later summaries need it.
        ln_se: standard deviation of the interval's distribution on the ln scale.
        session_share: share of the error's variance that comes from sessions and not from runs.
        session_common: share of that part which other cells of the same sessions have in common:
            what a mean over titles can't average out.
        p_direction: two-sided p of no change, adjusted for the declared rounds: `gain` or `loss`
            means p_direction <= 0.05. To be used for Benjamini-Hochberg.
        p_immaterial: larger p of the two one-sided tests against ±δ, adjusted for the rounds.
        p_material: two-sided p of lying within ±δ, adjusted for the rounds.
        direction: gain, loss, not_shown, no_verdict.
        size: material, immaterial, unsettled, no_verdict.
        p_size: the p value behind `size`: p_material where it says material, else p_immaterial.
        design: within_sessions, between_sessions, mixed.
        sessions: sessions used, both levels together.
        rounds_used: distinct rounds among them.
        blocks: blocks that were summarised (sessions or rounds).
        one_session: the change rests on one session of each level.
        session_basis: measured_sentinels, measured_rounds, declared, assumed (nothing measured or
            declared: an interval, but no verdict) or none (both levels in one session: the
            interval speaks of that session).
        raw_spread_pct: root mean square of both cells' raw spread; where neither cell has two runs
            in a session `has_raw_spread` is False and it is 0.
        has_raw_spread: see there.
        moderated_spread_pct: the same from the moderated spread of both cells.
        runs_still_needed: further runs per level until `size` settles at the change seen so far; 0
            if it is settled; NOT_REACHABLE if more than 99.
        sessions_still_needed: further sessions (of each level) for that, where sessions are what
            limits it; 0 where runs in the same session do.
    """

    change_pct: FloatArray
    low95: FloatArray
    high95: FloatArray
    low90: FloatArray
    high90: FloatArray
    low_decision: FloatArray
    high_decision: FloatArray
    decision_level_pct: FloatArray
    ln_change: FloatArray
    ln_se: FloatArray
    session_share: FloatArray
    session_common: FloatArray
    p_direction: FloatArray
    p_immaterial: FloatArray
    p_material: FloatArray
    direction: TextArray
    size: TextArray
    p_size: FloatArray
    design: TextArray
    sessions: IntArray
    rounds_used: IntArray
    blocks: IntArray
    one_session: BoolArray
    session_basis: TextArray
    raw_spread_pct: FloatArray
    has_raw_spread: BoolArray
    moderated_spread_pct: FloatArray
    runs_still_needed: IntArray
    sessions_still_needed: IntArray


@dataclass(frozen=True)
class Analysis:
    """All results of one contributor and metric."""

    model: SpreadModel
    cells: CellStatistics
    comparisons: ComparisonArrays
