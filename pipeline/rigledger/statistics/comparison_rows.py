"""From the laws of the changes to the rows of the comparisons table."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from rigledger.statistics import outputs as out
from rigledger.statistics.outputs import ComparisonArrays
from rigledger.statistics.planning import still_needed
from rigledger.statistics.sequential import nominal_level
from rigledger.statistics.verdicts import ALPHA, direction, ln_limits, p_values, size

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray, PairArrays, Settings
    from rigledger.statistics.outputs import TextArray
    from rigledger.statistics.pair_laws import Fitted, PairLaws
    from rigledger.statistics.spread_data import SortedRuns

    Columns = dict[str, NDArray[Any]]


def comparison_rows(
    fitted: Fitted, runs: SortedRuns, pairs: PairArrays, laws: PairLaws, settings: Settings
) -> ComparisonArrays:
    """Intervals, verdicts and provenance of every pair; see `ComparisonArrays`."""
    rounds = _rounds_used(runs, pairs, len(fitted.data.df))
    widths = _HalfWidths(laws, rounds, settings)
    basis = _basis(fitted, laws)
    verdicts = _verdicts(laws, rounds, settings, basis)
    needed = still_needed(
        laws.change,
        limits=ln_limits(settings.material_change_pct),
        half_widths=(widths.inner, widths.decision),
        counts=_counts(fitted, pairs),
        by_sessions=laws.sessions,
        settled=verdicts["size"] != out.UNSETTLED,
    )
    return ComparisonArrays(
        **_intervals(laws.change, widths),
        **_errors(fitted, laws),
        **verdicts,
        **_spreads(fitted, pairs),
        **_provenance(laws),
        rounds_used=rounds,
        session_basis=basis,
        runs_still_needed=needed.runs,
        sessions_still_needed=needed.sessions,
    )


def _intervals(change: FloatArray, widths: _HalfWidths) -> Columns:
    return {
        "change_pct": _percent(change),
        "low95": _percent(change - widths.at95),
        "high95": _percent(change + widths.at95),
        "low90": _percent(change - widths.at90),
        "high90": _percent(change + widths.at90),
        "low_decision": _percent(change - widths.decision),
        "high_decision": _percent(change + widths.decision),
        "decision_level_pct": 100.0 * widths.level,
    }


def _errors(fitted: Fitted, laws: PairLaws) -> Columns:
    """What later summaries need: the change of ln, its error, and the sessions' part in that."""
    within = np.where(np.any(laws.blocks.within, axis=1), laws.change_law.common, 0.0)
    between = np.where(_between(laws), fitted.cell_law.common, 0.0)
    return {
        "ln_change": laws.change,
        "ln_se": laws.law.standard_deviation(),
        "session_share": laws.session_share,
        "session_common": np.maximum(within, between),
    }


def _verdicts(laws: PairLaws, rounds: IntArray, settings: Settings, basis: TextArray) -> Columns:
    judged = basis != out.ASSUMED
    p = p_values(laws.change, laws.law, rounds, settings)
    verdict = size(p, settings, judged)
    return {
        "p_direction": p.direction,
        "p_immaterial": p.immaterial,
        "p_material": p.material,
        "direction": direction(laws.change, p, settings, judged),
        "size": verdict,
        "p_size": np.where(verdict == out.MATERIAL, p.material, p.immaterial),
    }


def _spreads(fitted: Fitted, pairs: PairArrays) -> Columns:
    raw, has_raw = _raw_spread(fitted, pairs)
    total = fitted.variance + fitted.data.floor
    both = 0.5 * (total[pairs.from_cell] + total[pairs.to_cell])
    return {
        "raw_spread_pct": raw,
        "has_raw_spread": has_raw,
        "moderated_spread_pct": 100.0 * np.sqrt(both),
    }


def _provenance(laws: PairLaws) -> Columns:
    return {
        "design": _design(laws),
        "sessions": (laws.blocks.sessions * laws.blocks.used).sum(axis=1),
        "blocks": laws.blocks.used.sum(axis=1).astype(np.int64),
        "one_session": _one_session(laws),
    }


class _HalfWidths:
    """Half-widths on the ln scale at the levels that the row needs."""

    def __init__(self, laws: PairLaws, rounds: IntArray, settings: Settings) -> None:
        kind, looks = settings.limits, settings.rounds_declared
        self.level = 1.0 - nominal_level(kind, looks, rounds, ALPHA)
        inner = 1.0 - 2.0 * nominal_level(kind, looks, rounds, ALPHA, sides=1)
        self.at95, self.at90 = laws.law.half_width(0.95), laws.law.half_width(0.90)
        self.decision = self.at95 if looks == 1 else laws.law.half_width(self.level)
        self.inner = self.at90 if looks == 1 else laws.law.half_width(inner)


def _percent(ln_change: FloatArray) -> FloatArray:
    percent: FloatArray = 100.0 * np.expm1(np.minimum(ln_change, 700.0))
    return percent


def _between(laws: PairLaws) -> BoolArray:
    """Whether any block compares sessions with each other."""
    between: BoolArray = np.any(laws.blocks.used & ~laws.blocks.within, axis=1)
    return between


def _basis(fitted: Fitted, laws: PairLaws) -> TextArray:
    """Where the session component of each pair comes from."""
    measured = np.where(_between(laws), fitted.cell_law.basis, laws.change_law.basis)
    return np.where(laws.sessions, measured, out.NONE)


def _design(laws: PairLaws) -> TextArray:
    within, between = np.any(laws.blocks.within, axis=1), _between(laws)
    return np.where(within & between, out.MIXED, np.where(within, out.WITHIN, out.BETWEEN))


def _rounds_used(runs: SortedRuns, pairs: PairArrays, cells: int) -> IntArray:
    """Distinct rounds over both cells of each pair."""
    labels, code = np.unique(runs.round, return_inverse=True)
    seen = np.zeros((cells, max(len(labels), 1)), dtype=bool)
    seen[runs.cell, code.reshape(-1)] = True
    both = seen[pairs.from_cell] | seen[pairs.to_cell]
    total: IntArray = both.sum(axis=1).astype(np.int64)
    return total


def _raw_spread(fitted: Fitted, pairs: PairArrays) -> tuple[FloatArray, BoolArray]:
    """Root mean square of the raw spreads that exist, in per cent, and whether any does."""
    data = fitted.data
    variance = data.squares / np.maximum(data.df, 1.0)
    sides = (pairs.from_cell, pairs.to_cell)
    told = [data.df[cell] > 0 for cell in sides]
    parts = [np.where(ok, variance[cell], 0.0) for ok, cell in zip(told, sides, strict=True)]
    count = told[0].astype(np.int64) + told[1]
    return 100.0 * np.sqrt((parts[0] + parts[1]) / np.maximum(count, 1)), count > 0


def _counts(fitted: Fitted, pairs: PairArrays) -> tuple[FloatArray, FloatArray]:
    """Runs and sessions per level: the smaller side counts."""
    data = fitted.data
    runs = np.minimum(data.runs[pairs.from_cell], data.runs[pairs.to_cell])
    sessions = np.minimum(data.sessions[pairs.from_cell], data.sessions[pairs.to_cell])
    return runs.astype(np.float64), np.maximum(sessions, 1).astype(np.float64)


def _one_session(laws: PairLaws) -> BoolArray:
    """One session that holds both levels, or one of each."""
    blocks = laws.blocks
    fewest = np.where(blocks.within[:, 0], 1, 2)
    one: BoolArray = (blocks.used.sum(axis=1) == 1) & (blocks.sessions[:, 0] == fewest)
    return one
