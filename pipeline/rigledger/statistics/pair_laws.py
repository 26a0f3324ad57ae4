"""From blocks to a summarised change and the law of its error, for many pairs at once."""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.blocks import SharedPasses, make_blocks, pad, shared_passes
from rigledger.statistics.mixture import BINS, ScaleMixture, compress
from rigledger.statistics.node_variances import (
    PairTask,
    Spreads,
    block_variance,
    node_variances,
)
from rigledger.statistics.pair_spread import pair_prior
from rigledger.statistics.pass_share import PassShare, fit_pass_share
from rigledger.statistics.session_component import SessionLaw, Units, fit_law, predict

if TYPE_CHECKING:
    from rigledger.statistics.blocks import PaddedBlocks
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray, PairArrays, Settings
    from rigledger.statistics.spread import SpreadFit
    from rigledger.statistics.spread_data import Groups, SortedRuns, SpreadData

_CHUNK = 256


@dataclass(frozen=True)
class Fitted:
    """All that is estimated from a whole contributor × metric before pairs are looked at.

    Attributes:
        data: per cell sums.
        groups: per cell and session.
        spread: the spread model.
        variance: run-to-run variance at the centre of each cell's posterior. Shape (cells,).
        cell_law: session law of the cells' level.
    """

    data: SpreadData
    groups: Groups
    spread: SpreadFit
    variance: FloatArray
    cell_law: SessionLaw


@dataclass(frozen=True)
class PairLaws:
    """The summarised changes and their laws. First axis: pairs.

    Attributes:
        change: of ln(value).
        law: mixture of the error.
        blocks: the blocks.
        sessions: whether a session component enters.
        session_share: share of the error's variance that sessions make, at the mean of ω².
        pass_share: ρ.
        change_law: session law of changes measured within sessions.
    """

    change: FloatArray
    law: ScaleMixture
    blocks: PaddedBlocks
    sessions: BoolArray
    session_share: FloatArray
    pass_share: PassShare
    change_law: SessionLaw


def cell_units(data: SpreadData, groups: Groups, spread: SpreadFit, v: FloatArray) -> Units:
    """The cells as repeating units: their session means."""
    cells = len(data.df)
    most = int(data.sessions.max(initial=1))
    column = np.arange(len(groups.cell)) - (np.cumsum(data.sessions) - data.sessions)[groups.cell]
    place = groups.cell * most + column

    def lay(array: FloatArray) -> FloatArray:
        out = np.zeros(cells * most)
        out[place] = array
        return out.reshape(cells, most)

    total = (v + data.floor)[groups.cell] / groups.runs
    return Units(
        value=lay(groups.mean),
        used=lay(np.ones(len(groups.cell))) > 0,
        variance=lay(total),
        ln_sd=np.sqrt(spread.posterior.own_variance),
        reference=v,
        together=_together(groups, cells),
    )


def _together(groups: Groups, cells: int) -> IntArray:
    """Number the sets of sessions; cells seen in the same sessions get the same number."""
    session = np.unique(groups.session, return_inverse=True)[1]
    # Two integer sums tell sets of sessions apart; should two sets ever collide, their units only
    # count for a little less.
    code = session.reshape(-1).astype(np.int64) + 1
    keys = np.zeros((cells, 2), dtype=np.int64)
    for k, multiplier in enumerate((2654435761, 40503)):
        mixed = (code * multiplier) % 2147483647
        np.add.at(keys[:, k], groups.cell, mixed * mixed % 2147483647)
    return np.unique(keys, axis=0, return_inverse=True)[1].reshape(-1).astype(np.int64)


def _change_units(fitted: Fitted, pairs: PairArrays, blocks: PaddedBlocks, rho: float) -> Units:
    """The pairs as repeating units: their changes by session."""
    a, b = pairs.from_cell, pairs.to_cell
    v = fitted.variance + fitted.data.floor
    total = v[a] + v[b]
    own = fitted.spread.posterior.own_variance
    ln_sd = np.sqrt((v[a] / total) ** 2 * own[a] + (v[b] / total) ** 2 * own[b])
    return Units(
        value=blocks.change,
        used=blocks.used & blocks.within,
        variance=_block_variances(fitted, pairs, blocks, rho, None),
        ln_sd=ln_sd,
        reference=0.5 * (fitted.variance[a] + fitted.variance[b]),
        together=_together(fitted.groups, len(fitted.data.df))[a],
    )


def _omegas(
    fitted: Fitted, pairs: PairArrays, units: Units, change_law: SessionLaw, repeated: BoolArray
) -> FloatArray:
    """Mean and sd of ln ω: of the change, the from cell, the to cell. Shape (3, 2, pairs)."""
    own = np.where(repeated, np.arange(len(repeated)), -1)
    cells = [np.where(repeated, cell, -1) for cell in (pairs.from_cell, pairs.to_cell)]
    rows = [
        predict(change_law, units.reference, [own]),
        predict(fitted.cell_law, fitted.variance[pairs.from_cell], cells),
        predict(fitted.cell_law, fitted.variance[pairs.to_cell], cells),
    ]
    return np.array(rows)


def _weights(variance: FloatArray, used: BoolArray) -> FloatArray:
    """Weight of each block: inverse variance at the centre of all posteriors."""
    precision = np.where(used, 1.0 / np.where(used, variance, 1.0), 0.0)
    scaled: FloatArray = precision / precision.sum(axis=1)[:, None]
    return scaled


def _block_variances(
    fitted: Fitted, pairs: PairArrays, blocks: PaddedBlocks, rho: float, omega2: FloatArray | None
) -> FloatArray:
    """Variance of each block's change at the centre of all posteriors. Shape (pairs, blocks)."""
    v = fitted.variance + fitted.data.floor
    spreads = Spreads(v[pairs.from_cell], v[pairs.to_cell], rho)
    return block_variance(blocks, spreads, omega2).T


def _session_share(weight: FloatArray, runs: FloatArray, both: FloatArray) -> FloatArray:
    """Share of the summarised changes' variance that sessions add to what runs make."""
    share: FloatArray = 1.0 - (weight**2 * runs).sum(axis=1) / (weight**2 * both).sum(axis=1)
    return share


def pair_laws(fitted: Fitted, runs: SortedRuns, pairs: PairArrays, settings: Settings) -> PairLaws:
    """Summarise the changes of all pairs over their blocks.

    Args:
        fitted: see there.
        runs: sorted runs.
        pairs: the pairs; every cell named has a run.
        settings: for a declared session spread.
    """
    count = len(pairs.from_cell)
    passes, keys, shared = shared_passes(runs, fitted.groups, pairs)
    share = fit_pass_share(passes.squares_from, passes.squares_to, passes.products, passes.df)
    blocks = pad(make_blocks(fitted.groups, pairs, (keys, shared)), count)
    units = _change_units(fitted, pairs, blocks, share.mean)
    change_law = fit_law(units, np.zeros(count, dtype=bool), settings.session_spread_pct)
    used = blocks.used.sum(axis=1)
    sessions = (used > 1) | ~blocks.within[:, 0]
    omega = _omegas(fitted, pairs, units, change_law, used > 1)
    centre = partial(_block_variances, fitted, pairs, blocks, share.mean)
    weight = _weights(centre(np.exp(2.0 * omega[:, 0])), blocks.used)
    # An interval answers for the tail: here ω² stands at its mean, that of a lognormal law.
    mean_square = np.exp(2.0 * (omega[:, 0] + omega[:, 1] ** 2))
    by_sessions = _session_share(weight, centre(None), centre(mean_square)) * sessions
    task = _Work(fitted, pairs, passes, blocks, share.nodes, weight, omega, sessions)
    change = (weight * blocks.change).sum(axis=1)
    return PairLaws(change, task.law(), blocks, sessions, by_sessions, share, change_law)


@dataclass(frozen=True)
class _Work:
    """Pairs to be worked through in portions of one kind."""

    fitted: Fitted
    pairs: PairArrays
    passes: SharedPasses
    blocks: PaddedBlocks
    rho: FloatArray
    weight: FloatArray
    omega: FloatArray
    sessions: BoolArray

    def law(self) -> ScaleMixture:
        """The mixtures of all pairs."""
        count = len(self.sessions)
        sd, weight = np.ones((count, BINS)), np.zeros((count, BINS))
        weight[:, 0] = 1.0
        shared = self.blocks.share_both.sum(axis=1) > 0
        several = self.blocks.used.sum(axis=1)
        kind = (several * 2 + self.sessions) * 2 + shared
        for each in np.unique(kind):
            rows = np.flatnonzero(kind == each)
            for portion in np.split(rows, range(_CHUNK, len(rows), _CHUNK)):
                part = compress(*node_variances(self._task(portion), self.fitted.data))
                sd[portion], weight[portion] = part.sd, part.weight
        return ScaleMixture(sd, weight)

    def _task(self, rows: IntArray) -> PairTask:
        cell_from, cell_to = self.pairs.from_cell[rows], self.pairs.to_cell[rows]
        blocks = self.blocks.rows(rows)
        shared = bool(np.any(blocks.share_both > 0))
        return PairTask(
            cell_from=cell_from,
            cell_to=cell_to,
            prior=pair_prior(self.fitted.spread, cell_from, cell_to),
            passes=SharedPasses(
                self.passes.df[rows],
                self.passes.squares_from[rows],
                self.passes.squares_to[rows],
                self.passes.products[rows],
            ),
            blocks=blocks,
            rho=self.rho if shared else np.zeros(1),
            weight=self.weight[rows, : blocks.used.shape[1]],
            omega=self.omega[:, :, rows],
            sessions=bool(self.sessions[rows[0]]),
        )
