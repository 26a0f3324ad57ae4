"""Coverage of the geometric mean over a rig's titles, by simulation.

The mean of the same titles, and the mean of titles like these, where a boot moves all titles of a
session at once and where it moves each by itself.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from comparison_rivals import method
from session_studies import SessionPlan, draw_sessions

from rigledger.statistics.comparisons import Settings
from rigledger.statistics.geometric_mean import OverallChange, overall_change
from rigledger.statistics.small_sample import matched_student
from rigledger.statistics.title_sessions import session_covariance

if TYPE_CHECKING:
    from comparison_studies import FloatArray, Study
    from scoreboard import Scoreboard

    from rigledger.statistics.comparisons import ComparisonArrays
    from rigledger.statistics.geometric_mean import Interval

RATIO = 1.0
CENTRE = 0.01
CASES = {
    "sentinels": (SessionPlan(ratio=RATIO), Settings()),
    "two rounds": (SessionPlan(ratio=RATIO, rounds=2, sentinels=False), Settings()),
    "truly declared": (
        SessionPlan(ratio=RATIO, proportional=False, sentinels=False),
        Settings(session_spread_pct=RATIO),
    ),
    "runs alone (no session effects, declared so)": (
        SessionPlan(ratio=0.0, sentinels=False),
        Settings(session_spread_pct=1e-3),
    ),
}


@dataclass(frozen=True)
class _Shares:
    """Shares of the rigs of one study.

    Attributes:
        these: whose interval for these titles holds their true mean.
        like: whose interval for titles like these holds the mean of all such titles.
        apart: the first, with titles taken to be independent.
        narrower: whose second interval is the narrower one.
    """

    these: float
    like: float
    apart: float
    narrower: float


def title_means(board: Scoreboard, scale: float) -> None:
    """Ten titles a rig, eight rigs a study; the changes of the titles differ by 0 or 2 %."""
    board.title("Geometric mean over 10 titles of a rig, levels in separate sessions: coverage")
    narrower: list[float] = []
    for k, (name, (plan, settings)) in enumerate(CASES.items()):
        for common in (True, False) if plan.ratio else (False,):
            for between in (0.0, 0.02):
                rng = np.random.default_rng([11, k, common, round(1000 * between)])
                case = replace(plan, common=common)
                shares = [
                    _shares(case, settings, between, rng) for _ in range(max(4, round(30 * scale)))
                ]
                moved = "all titles at once" if common else "each title by itself"
                _report(board, f"{name}, boots move {moved}, titles ± {between:.0%}", shares)
                narrower += [share.narrower for share in shares]
    board.report("share whose interval for like these is the narrower one", narrower, None, 0.0)


def _report(board: Scoreboard, name: str, shares: list[_Shares]) -> None:
    apart = float(np.mean([share.apart for share in shares]))
    note = f"titles taken as independent {apart:.3f}"
    board.report(f"{name}: these", [share.these for share in shares], 0.93, note=note)
    board.report(f"{name}: like these", [share.like for share in shares], 0.93)


def _shares(
    plan: SessionPlan, settings: Settings, between: float, rng: np.random.Generator
) -> _Shares:
    study = draw_sessions(plan, rng)
    change = rng.normal(CENTRE, between, len(study.change))
    runs = replace(study.runs, value=study.runs.value * np.exp(_moved(study, change)))
    rows = method(replace(study, runs=runs), settings)[1]
    titles = plan.workloads * plan.resolutions
    marks = []
    for rig in range(plan.rigs):
        held = slice(rig * titles, (rig + 1) * titles)
        found, apart = _overall(study, rows, held)
        marks.append(_marks(found, apart, float(change[held].mean())))
    return _Shares(*np.mean(marks, axis=0))


def _marks(found: OverallChange, apart: OverallChange, mean_change: float) -> tuple[bool, ...]:
    """One rig's marks, in the order of `_Shares`."""
    like, truth = found.titles_like_these, 100 * np.expm1(mean_change)
    if like is None:
        raise AssertionError(found)
    return (
        _holds(found.these_titles, truth),
        _holds(like, 100 * np.expm1(CENTRE)),
        _holds(apart.these_titles, truth),
        _width(like) < _width(found.these_titles),
    )


def _moved(study: Study, change: FloatArray) -> FloatArray:
    """What the setting does to each run."""
    by_cell = np.zeros(len(study.sd))
    by_cell[study.pairs.to_cell] = change
    return by_cell[study.runs.cell]


def _overall(
    study: Study, rows: ComparisonArrays, held: slice
) -> tuple[OverallChange, OverallChange]:
    """The mean as the tables take it, and with titles taken to be independent."""
    halves = [(np.log1p(high / 100) - rows.ln_change)[held] for high in (rows.high90, rows.high95)]
    variance, df = matched_student(*halves)
    common = session_covariance(
        variance, rows.session_share[held], rows.session_common[held], _weights(study, held)
    )
    change, error = rows.ln_change[held], np.sqrt(variance)
    return (
        overall_change(change, error, df, session_covariance=common),
        overall_change(change, error, df),
    )


def _weights(study: Study, held: slice) -> FloatArray:
    """Weight of each session in each title's change: a level's sessions count alike."""
    sessions = int(study.runs.session.max()) + 1
    seen = np.zeros((len(study.sd), sessions))
    seen[study.runs.cell, study.runs.session] = 1.0
    share = seen / np.maximum(seen.sum(axis=1), 1.0)[:, None]
    weights: FloatArray = (share[study.pairs.to_cell] - share[study.pairs.from_cell])[held]
    return weights


def _holds(interval: Interval, truth: float) -> bool:
    return interval.lower <= truth <= interval.upper


def _width(interval: Interval) -> float:
    return interval.upper - interval.lower
