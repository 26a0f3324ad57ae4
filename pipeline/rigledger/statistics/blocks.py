"""Blocks: where two cells can be compared like with like, and how far a block is to be trusted.

The change is not the difference of two cells' means: with unbalanced sessions that would mix what
the setting does with what a reboot does. It is taken within each block and then summarised. A
block is a session in which both levels ran (its shared passes enter the variance), or, where a
level needs sessions of its own, a round. Where the levels share neither, all sessions together
are one block.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.linear import sum_by

if TYPE_CHECKING:
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray, PairArrays
    from rigledger.statistics.spread_data import Groups, SortedRuns


@dataclass(frozen=True)
class Blocks:
    """One row per pair and block, ordered by pair.

    The variance of a block's change is share_from σ_from² + share_to σ_to² - 2 ρ share_both σ_from
    σ_to, plus ψ² within a session, plus ω_from² / sessions_from + ω_to² / sessions_to between.

    Attributes:
        pair: position of the pair.
        change: difference of means of ln(value), to minus from.
        share_from, share_to: sums of squared weights of the runs.
        share_both: the same for runs that share a pass.
        within: both levels ran in this one session.
        sessions_from, sessions_to: sessions on either side.
        session: session label within, else the round's.
    """

    pair: IntArray
    change: FloatArray
    share_from: FloatArray
    share_to: FloatArray
    share_both: FloatArray
    within: BoolArray
    sessions_from: IntArray
    sessions_to: IntArray


@dataclass(frozen=True)
class SharedPasses:
    """Residual sums over the passes that both cells of a pair share. Shapes (pairs,).

    Attributes:
        df: shared passes minus the sessions that hold them.
        squares_from, squares_to, products: residual sums of squares and products.
    """

    df: FloatArray
    squares_from: FloatArray
    squares_to: FloatArray
    products: FloatArray


@dataclass(frozen=True)
class _Joined:
    """Rows of a join: the pair, and positions on the from and the to side."""

    pair: IntArray
    left: IntArray
    right: IntArray


def _expand(cell_of_row: IntArray, wanted: IntArray) -> tuple[IntArray, IntArray]:
    """For each wanted cell, all rows (sorted by cell) of that cell: (position in wanted, row)."""
    start = np.searchsorted(cell_of_row, wanted, side="left")
    count = np.searchsorted(cell_of_row, wanted, side="right") - start
    owner = np.repeat(np.arange(len(wanted)), count)
    offset = np.arange(len(owner)) - np.repeat(np.cumsum(count) - count, count)
    return owner, start[owner] + offset


def _join(keys: list[IntArray], cell: IntArray, pairs: PairArrays) -> _Joined:
    """Rows of the from cell that have a row with equal keys in the to cell (the first, if many)."""
    pair, left = _expand(cell, pairs.from_cell)
    code = np.zeros(len(cell), dtype=np.int64)
    for key in keys:
        labels, inverse = np.unique(key, return_inverse=True)
        code = code * len(labels) + inverse.reshape(-1)
        code = np.unique(code, return_inverse=True)[1].reshape(-1)
    width = int(code.max(initial=0)) + 1
    full = cell * width + code
    order = np.argsort(full, kind="stable")
    wanted = pairs.to_cell[pair] * width + code[left]
    place = np.minimum(np.searchsorted(full[order], wanted), max(len(cell) - 1, 0))
    right = order[place] if len(cell) else place
    hit = full[right] == wanted
    return _Joined(pair[hit], left[hit], right[hit])


def shared_passes(
    runs: SortedRuns, groups: Groups, pairs: PairArrays
) -> tuple[SharedPasses, IntArray, IntArray]:
    """Sums over shared passes, and how many each (pair, from-group) shares.

    Returns:
        The sums; and a sparse count as two arrays: key pair × groups + group, and shared passes.
    """
    rows = np.flatnonzero(runs.pass_index >= 0)
    joined = _join([runs.session[rows], runs.pass_index[rows]], runs.cell[rows], pairs)
    left, right = rows[joined.left], rows[joined.right]
    key = joined.pair * len(groups.cell) + groups.of_run[left]
    keys, where, count = np.unique(key, return_inverse=True, return_counts=True)
    where = where.reshape(-1)
    deviation = [_centre(runs.y[side], where, count) for side in (left, right)]
    size = len(pairs.from_cell)

    def total(a: FloatArray, b: FloatArray) -> FloatArray:
        return sum_by(joined.pair, a * b, size)

    holders = keys // max(len(groups.cell), 1)
    df = np.bincount(joined.pair, minlength=size) - np.bincount(holders, minlength=size)
    sums = SharedPasses(
        df.astype(np.float64),
        total(deviation[0], deviation[0]),
        total(deviation[1], deviation[1]),
        total(deviation[0], deviation[1]),
    )
    return sums, keys, count.astype(np.int64)


def _centre(y: FloatArray, where: IntArray, count: IntArray) -> FloatArray:
    mean = sum_by(where, y, len(count)) / np.maximum(count, 1)
    centred: FloatArray = y - mean[where]
    return centred


def make_blocks(groups: Groups, pairs: PairArrays, shared: tuple[IntArray, IntArray]) -> Blocks:
    """All blocks of all pairs; every pair has at least one."""
    joined = _join([groups.session], groups.cell, pairs)
    inside = _within(groups, joined, shared)
    rounds = _between(groups, pairs, joined, groups.round)
    met = np.zeros(len(pairs.from_cell), dtype=bool)
    met[inside.pair] = True
    met[rounds.pair] = True
    apart = _between(groups, pairs, joined, np.zeros_like(groups.round))
    return _stack([inside, rounds, _keep(apart, ~met[apart.pair])])


def _within(groups: Groups, joined: _Joined, shared: tuple[IntArray, IntArray]) -> Blocks:
    left, right = joined.left, joined.right
    key = joined.pair * len(groups.cell) + left
    keys, counts = shared
    place = np.minimum(np.searchsorted(keys, key), max(len(keys) - 1, 0))
    both = np.zeros(len(key))
    if len(keys):
        both = np.where(keys[place] == key, counts[place], 0).astype(np.float64)
    n_from, n_to = groups.runs[left], groups.runs[right]
    one = np.ones(len(left), dtype=np.int64)
    return Blocks(
        pair=joined.pair,
        change=groups.mean[right] - groups.mean[left],
        share_from=1.0 / n_from,
        share_to=1.0 / n_to,
        share_both=both / (n_from * n_to),
        within=np.ones(len(left), dtype=bool),
        sessions_from=one,
        sessions_to=one,
    )


@dataclass(frozen=True)
class _Side:
    """One side's mean per pair and round, over the sessions that don't hold the other level."""

    key: IntArray
    mean: FloatArray
    share: FloatArray
    sessions: IntArray


def _side(groups: Groups, cell: IntArray, used: IntArray, rounds: IntArray, width: int) -> _Side:
    pair, row = _expand(groups.cell, cell)
    free = ~np.isin(pair * len(groups.cell) + row, used)
    pair, row = pair[free], row[free]
    key, where, count = np.unique(
        pair * width + rounds[row], return_inverse=True, return_counts=True
    )
    where = where.reshape(-1)
    mean = sum_by(where, groups.mean[row], len(key)) / np.maximum(count, 1)
    share = sum_by(where, 1.0 / groups.runs[row], len(key))
    return _Side(key, mean, share / np.maximum(count, 1) ** 2, count.astype(np.int64))


def _between(groups: Groups, pairs: PairArrays, joined: _Joined, rounds: IntArray) -> Blocks:
    labels, code = np.unique(rounds, return_inverse=True)
    code, size = code.reshape(-1), len(groups.cell)
    sides = [
        _side(groups, cell, joined.pair * size + used, code, max(len(labels), 1))
        for cell, used in ((pairs.from_cell, joined.left), (pairs.to_cell, joined.right))
    ]
    _, a, b = np.intersect1d(sides[0].key, sides[1].key, return_indices=True)
    left, right = sides
    return Blocks(
        pair=left.key[a] // max(len(labels), 1),
        change=right.mean[b] - left.mean[a],
        share_from=left.share[a],
        share_to=right.share[b],
        share_both=np.zeros(len(a)),
        within=np.zeros(len(a), dtype=bool),
        sessions_from=left.sessions[a],
        sessions_to=right.sessions[b],
    )


_FIELDS = (
    "pair",
    "change",
    "share_from",
    "share_to",
    "share_both",
    "within",
    "sessions_from",
    "sessions_to",
)


def _keep(blocks: Blocks, mask: BoolArray) -> Blocks:
    return Blocks(*(getattr(blocks, name)[mask] for name in _FIELDS))


def _stack(parts: list[Blocks]) -> Blocks:
    joined = [np.concatenate([getattr(part, name) for part in parts]) for name in _FIELDS]
    order = np.argsort(joined[0], kind="stable")
    return Blocks(*(array[order] for array in joined))


@dataclass(frozen=True)
class PaddedBlocks:
    """The same blocks as one row per pair. Shapes (pairs, most blocks); unused places are 0."""

    used: BoolArray
    change: FloatArray
    share_from: FloatArray
    share_to: FloatArray
    share_both: FloatArray
    within: BoolArray
    per_session_from: FloatArray
    per_session_to: FloatArray
    sessions: IntArray

    def rows(self, index: IntArray) -> PaddedBlocks:
        """The rows of some pairs, cut to the blocks they use."""
        most = int(self.used[index].sum(axis=1).max(initial=1))
        return PaddedBlocks(*(getattr(self, name)[index, :most] for name in _PADDED))


_PADDED = (
    "used",
    "change",
    "share_from",
    "share_to",
    "share_both",
    "within",
    "per_session_from",
    "per_session_to",
    "sessions",
)


def pad(blocks: Blocks, pairs: int) -> PaddedBlocks:
    """Lay the blocks out as one row per pair."""
    count = np.bincount(blocks.pair, minlength=pairs)
    most = int(count.max(initial=1))
    column = np.arange(len(blocks.pair)) - (np.cumsum(count) - count)[blocks.pair]
    place = blocks.pair * most + column

    def lay(array: FloatArray | IntArray | BoolArray) -> FloatArray:
        out = np.zeros(pairs * most)
        out[place] = array
        return out.reshape(pairs, most)

    used = lay(np.ones(len(blocks.pair))) > 0
    within = lay(blocks.within) > 0
    sessions = np.where(blocks.within, 1, blocks.sessions_from + blocks.sessions_to)
    return PaddedBlocks(
        used=used,
        change=lay(blocks.change),
        share_from=lay(blocks.share_from),
        share_to=lay(blocks.share_to),
        share_both=lay(blocks.share_both),
        within=within,
        per_session_from=lay(np.where(blocks.within, 0.0, 1.0 / blocks.sessions_from)),
        per_session_to=lay(np.where(blocks.within, 0.0, 1.0 / blocks.sessions_to)),
        sessions=lay(sessions).astype(np.int64),
    )
