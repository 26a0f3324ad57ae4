"""How cells, and the setting's effect in them, moved from one stack to another.

Two stacks are never measured in one boot, so what a boot alone changes is always in the interval,
also where each stack was measured in a single session: an interval that spoke of those sessions
only would call every reboot a change of the driver.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.comparisons import check_settings, fit
from rigledger.statistics.mixture import ScaleMixture, compress
from rigledger.statistics.outputs import ASSUMED, DECLARED, NONE, ROUNDS, SENTINELS
from rigledger.statistics.pair_laws import pair_laws
from rigledger.statistics.session_component import predict
from rigledger.statistics.spread_data import sort_runs
from rigledger.statistics.verdicts import direction, p_values, size

if TYPE_CHECKING:
    from rigledger.statistics.inputs import (
        BoolArray,
        CellArrays,
        FloatArray,
        IntArray,
        PairArrays,
        RunArrays,
        Settings,
    )
    from rigledger.statistics.outputs import TextArray
    from rigledger.statistics.pair_laws import Fitted, PairLaws
    from rigledger.statistics.spread_data import SortedRuns

_OMEGA = np.array([-2.4, -1.2, 0.0, 1.2, 2.4])
_SHAKIEST_FIRST = (ASSUMED, DECLARED, ROUNDS, SENTINELS, NONE)
_CHUNK = 256


@dataclass(frozen=True)
class AskedShifts:
    """What to hold against each other.

    Attributes:
        cells: the cell on the earlier stack and the same one on the later.
        changes: all comparisons of the contributor and metric, as `analyse` takes them.
        effects: positions in `changes`: a comparison on the earlier stack, and on the later.
    """

    cells: PairArrays
    changes: PairArrays
    effects: PairArrays


@dataclass(frozen=True)
class ShiftArrays:
    """One row per shift; every array has shape (shifts,) and holds no NaN.

    Attributes:
        shift_pct: 100 (exp(shift of ln) - 1); of an effect, the ratio of the two changes.
        low95, high95: 95 % interval, in per cent.
        p: two-sided p of no shift.
        direction: gain, loss, not_shown or no_verdict.
        size: material, immaterial, unsettled or no_verdict.
        session_basis: where the session component comes from; `none` where both sides of a title's
            patch were measured in one session.
    """

    shift_pct: FloatArray
    low95: FloatArray
    high95: FloatArray
    p: FloatArray
    direction: TextArray
    size: TextArray
    session_basis: TextArray


@dataclass(frozen=True)
class StackShifts:
    """Shifts of the cells' level and of the setting's effect."""

    cells: ShiftArrays
    effects: ShiftArrays


def stack_shifts(
    runs: RunArrays, cells: CellArrays, asked: AskedShifts, settings: Settings
) -> StackShifts:
    """Judge shifts between stacks by the spread and session models of one contributor and metric.

    A cell's shift is the difference of its means over sessions; rounds don't pair sessions of
    different stacks. An effect's shift is the difference of two summarised changes. A re-test is
    one planned look, so declared rounds don't widen these intervals.

    Args:
        runs: measured and sentinel runs, on all stacks.
        cells: the cells; those on different stacks are different cells.
        asked: what to compare.
        settings: what the study declared.

    Raises:
        ComparisonInputError: as `analyse` does.
    """
    once = replace(settings, rounds_declared=1)
    check_settings(once)
    ordered = sort_runs(runs, len(cells.sentinel))
    fitted = fit(ordered, cells, once)
    return StackShifts(
        _cell_shifts(fitted, ordered, asked.cells, once),
        _effect_shifts(fitted, ordered, asked, once),
    )


def _cell_shifts(
    fitted: Fitted, runs: SortedRuns, pairs: PairArrays, settings: Settings
) -> ShiftArrays:
    groups = replace(fitted.groups, round=np.zeros_like(fitted.groups.round))
    roundless = replace(runs, round=np.zeros_like(runs.round))
    laws = pair_laws(replace(fitted, groups=groups), roundless, pairs, settings)
    basis = np.where(laws.sessions, fitted.cell_law.basis, NONE)
    return _judged(laws.change, laws.law, basis, settings)


def _effect_shifts(
    fitted: Fitted, runs: SortedRuns, asked: AskedShifts, settings: Settings
) -> ShiftArrays:
    before, after = asked.effects.from_cell, asked.effects.to_cell
    laws = pair_laws(fitted, runs, asked.changes, settings)
    full = _with_sessions(fitted, asked.changes, laws)
    joint = spreads_together(_rows_of(full, before), _rows_of(full, after))
    basis = _basis(fitted, laws)
    return _judged(
        laws.change[after] - laws.change[before],
        joint,
        _shakier(basis[before], basis[after]),
        settings,
    )


def _rows_of(law: ScaleMixture, rows: IntArray) -> ScaleMixture:
    return ScaleMixture(law.sd[rows], law.weight[rows])


def _with_sessions(fitted: Fitted, pairs: PairArrays, laws: PairLaws) -> ScaleMixture:
    """Add the session component of a change to the laws of those that rest on one session."""
    lacking = np.flatnonzero(~laws.sessions)
    sd, weight = laws.law.sd.copy(), laws.law.weight.copy()
    for rows in np.split(lacking, range(_CHUNK, len(lacking), _CHUNK)):
        reference = 0.5 * (
            fitted.variance[pairs.from_cell[rows]] + fitted.variance[pairs.to_cell[rows]]
        )
        mean, ln_sd = predict(laws.change_law, reference, [])
        widened = widen(_rows_of(laws.law, rows), mean, ln_sd)
        sd[rows], weight[rows] = widened.sd, widened.weight
    return ScaleMixture(sd, weight)


def widen(law: ScaleMixture, ln_mean: FloatArray, ln_sd: FloatArray) -> ScaleMixture:
    """Add an independent normal error to each row, whose sd is lognormal.

    Args:
        law: one mixture per row.
        ln_mean: mean of ln of the added error's sd. Shape (rows,).
        ln_sd: its standard deviation. Shape (rows,).
    """
    if not len(ln_mean):
        return law
    omega2 = np.exp(2.0 * (ln_mean[:, None] + ln_sd[:, None] * _OMEGA))
    chance = np.exp(-0.5 * _OMEGA**2)
    variance = law.sd[:, :, None] ** 2 + omega2[:, None, :]
    weight = law.weight[:, :, None] * chance
    return compress(variance.reshape(len(ln_mean), -1), weight.reshape(len(ln_mean), -1))


def spreads_together(one: ScaleMixture, other: ScaleMixture) -> ScaleMixture:
    """Law of the difference of two errors whose spreads are large together.

    The two spreads share a rig, a workload and the law of sessions, so they are coupled rank by
    rank, the dependence with the longest tails: it claims less than independence would.

    Args:
        one: mixtures with sds in ascending order.
        other: the same, one per row of `one`.
    """
    sums = [np.cumsum(law.weight, axis=1) for law in (one, other)]
    edges = np.sort(np.concatenate(sums, axis=1), axis=1)
    weight = np.diff(edges, prepend=0.0, axis=1)
    middle = edges - 0.5 * weight
    sds = []
    for law, total in zip((one, other), sums, strict=True):
        place = (total[:, :, None] < middle[:, None, :]).sum(axis=1)
        sds.append(np.take_along_axis(law.sd, np.minimum(place, law.sd.shape[1] - 1), axis=1))
    return ScaleMixture(np.hypot(*sds), weight / weight.sum(axis=1)[:, None])


def _basis(fitted: Fitted, laws: PairLaws) -> TextArray:
    between: BoolArray = np.any(laws.blocks.used & ~laws.blocks.within, axis=1)
    return np.where(between, fitted.cell_law.basis, laws.change_law.basis)


def _shakier(one: TextArray, other: TextArray) -> TextArray:
    """Of two bases, the one that is worth less."""
    names = np.array(_SHAKIEST_FIRST)
    rank = {name: place for place, name in enumerate(_SHAKIEST_FIRST)}
    worth = [min(rank[str(left)], rank[str(right)]) for left, right in zip(one, other, strict=True)]
    return names[np.array(worth, dtype=np.int64)]


def _judged(
    shift: FloatArray, law: ScaleMixture, basis: TextArray, settings: Settings
) -> ShiftArrays:
    judged = basis != ASSUMED
    p = p_values(shift, law, np.ones(len(shift), dtype=np.int64), settings)
    half = law.half_width(0.95) if len(shift) else shift
    return ShiftArrays(
        shift_pct=_percent(shift),
        low95=_percent(shift - half),
        high95=_percent(shift + half),
        p=p.direction,
        direction=direction(shift, p, settings, judged),
        size=size(p, settings, judged),
        session_basis=basis,
    )


def _percent(ln_change: FloatArray) -> FloatArray:
    percent: FloatArray = 100.0 * np.expm1(np.minimum(ln_change, 700.0))
    return percent
