"""The variance of a summarised change, and its weight, at nodes over (σ_from, σ_to, ρ, ω)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.pair_spread import nodes_of
from rigledger.statistics.rounding import variance_of_mean
from rigledger.statistics.session_component import restricted_log_likelihood
from rigledger.statistics.spread_likelihood import log_likelihood

if TYPE_CHECKING:
    from rigledger.statistics.blocks import PaddedBlocks, SharedPasses
    from rigledger.statistics.inputs import FloatArray, IntArray
    from rigledger.statistics.pair_spread import PairPrior
    from rigledger.statistics.spread_data import SpreadData

_OMEGA = np.array([-2.4, -1.2, 0.0, 1.2, 2.4])


@dataclass(frozen=True)
class PairTask:
    """Some pairs of one kind, with all that their mixture needs. First axis: pairs.

    Attributes:
        cell_from, cell_to: cells.
        prior: see `PairPrior`.
        passes: residual sums over shared passes.
        blocks: the blocks.
        rho: values of ρ, equally likely. Shape (values,).
        weight: weight of each block in the change. Shape (pairs, blocks).
        omega: mean and sd of ln of the session component: of the change, of the from cell, of the
            to cell. Shape (3, 2, pairs).
        sessions: whether the session component enters.
    """

    cell_from: IntArray
    cell_to: IntArray
    prior: PairPrior
    passes: SharedPasses
    blocks: PaddedBlocks
    rho: FloatArray
    weight: FloatArray
    omega: FloatArray
    sessions: bool


@dataclass(frozen=True)
class Spreads:
    """Run-to-run variances of both cells, and what they share in a pass.

    Attributes:
        v_from, v_to: shape (pairs, nodes), or (pairs,) where there is one value only.
        rho: share of a pass.
    """

    v_from: FloatArray
    v_to: FloatArray
    rho: float


def node_variances(task: PairTask, data: SpreadData) -> tuple[FloatArray, FloatArray]:
    """Variance of the summarised change at each node, and the node's weight.

    Returns:
        Two arrays of shape (pairs, nodes).
    """
    x_from, x_to, log_prior = nodes_of(task.prior)
    v_from, v_to = np.exp(2.0 * x_from), np.exp(2.0 * x_to)
    rest = log_prior + _log_rest(task, data, x_from, x_to)
    parts = []
    for rho in task.rho:
        spreads = Spreads(v_from, v_to, float(rho))
        parts.append(_at_rho(task, data, spreads, rest + _log_joint(task, data, spreads)))
    return _side_by_side(parts)


def _side_by_side(parts: list[tuple[FloatArray, FloatArray]]) -> tuple[FloatArray, FloatArray]:
    return (
        np.concatenate([variance for variance, _ in parts], axis=1),
        np.concatenate([weight for _, weight in parts], axis=1),
    )


def _at_rho(
    task: PairTask, data: SpreadData, spreads: Spreads, log_weight: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Variances and weights for one ρ; the weights add up to 1 for each ρ."""
    base = _run_variance(task, data, spreads)
    if not task.sessions:
        return base, _normalise(log_weight)
    shares = [_share(task, part) for part in _session_shares(task.blocks)]
    parts = []
    for node in _OMEGA:
        omega2 = np.exp(2.0 * (task.omega[:, 0] + node * task.omega[:, 1]))
        own = log_weight - 0.5 * node**2 + _replicates(task, spreads, omega2)
        added = sum(share * row for share, row in zip(shares, omega2, strict=True))
        parts.append((base + added[:, None], own))
    variance, joined = _side_by_side(parts)
    return variance, _normalise(joined)


def _normalise(log_weight: FloatArray) -> FloatArray:
    weight = np.exp(log_weight - log_weight.max(axis=1)[:, None])
    scaled: FloatArray = weight / weight.sum(axis=1)[:, None]
    return scaled


def _log_rest(task: PairTask, data: SpreadData, x_from: FloatArray, x_to: FloatArray) -> FloatArray:
    """Log likelihood of the residuals of both cells outside the passes they share."""
    total = np.zeros_like(x_from)
    passes = task.passes
    for cell, x, squares in (
        (task.cell_from, x_from, passes.squares_from),
        (task.cell_to, x_to, passes.squares_to),
    ):
        df = data.df[cell] - passes.df
        rest = np.maximum(data.squares[cell] - squares, 0.0)
        total += log_likelihood(x, df[:, None], rest[:, None], data.floor[cell][:, None])
    return total


def _log_joint(task: PairTask, data: SpreadData, spreads: Spreads) -> FloatArray:
    """Log density of the 2 × 2 matrix of residual sums of shared passes (Wishart 1928)."""
    passes, df = task.passes, task.passes.df[:, None]
    v_from = spreads.v_from + data.floor[task.cell_from][:, None]
    v_to = spreads.v_to + data.floor[task.cell_to][:, None]
    free = 1.0 - spreads.rho**2
    squares = passes.squares_from[:, None] / v_from + passes.squares_to[:, None] / v_to
    cross = passes.products[:, None] / np.sqrt(v_from * v_to)
    value: FloatArray = -0.5 * df * (np.log(v_from) + np.log(v_to))
    return value - 0.5 * (squares - 2.0 * spreads.rho * cross) / free


def block_variance(blocks: PaddedBlocks, spreads: Spreads, omega2: FloatArray | None) -> FloatArray:
    """Variance of each block's change.

    Args:
        blocks: the blocks of each pair.
        spreads: the variances.
        omega2: session components (of the change, the from cell, the to cell), shape (3, pairs).

    Returns:
        Shape (blocks, pairs, nodes), or (blocks, pairs) where `spreads` has no nodes.
    """
    one_node = spreads.v_from.ndim == 1

    def of(per_block: FloatArray) -> FloatArray:
        return per_block.T if one_node else per_block.T[:, :, None]

    common = 2.0 * spreads.rho * np.sqrt(spreads.v_from * spreads.v_to)
    variance: FloatArray = of(blocks.share_from) * spreads.v_from
    variance = variance + of(blocks.share_to) * spreads.v_to - of(blocks.share_both) * common
    if omega2 is None:
        return variance
    for share, row in zip(_session_shares(blocks), omega2, strict=True):
        variance = variance + of(share) * (row if one_node else row[:, None])
    return variance


def _session_shares(blocks: PaddedBlocks) -> tuple[FloatArray, FloatArray, FloatArray]:
    """How much of each session component a block's change carries. Shapes (pairs, blocks)."""
    within = blocks.within.astype(np.float64)
    return within, blocks.per_session_from, blocks.per_session_to


def _share(task: PairTask, per_block: FloatArray) -> FloatArray:
    """What the weighted mean of the blocks carries of a variance they each carry: (pairs,)."""
    total: FloatArray = (task.weight**2 * per_block).sum(axis=1)
    return total


def _run_variance(task: PairTask, data: SpreadData, spreads: Spreads) -> FloatArray:
    """Run-to-run variance of the weighted mean of the blocks' changes, rounding included."""
    blocks = task.blocks
    shares = (blocks.share_from, blocks.share_to, blocks.share_both)
    share_from, share_to, both = (_share(task, part)[:, None] for part in shares)
    floor_from, floor_to = data.floor[task.cell_from][:, None], data.floor[task.cell_to][:, None]
    common = spreads.rho * both * np.sqrt(spreads.v_from * spreads.v_to)
    return (
        variance_of_mean(spreads.v_from, floor_from, share_from)
        + variance_of_mean(spreads.v_to, floor_to, share_to)
        - 2.0 * common
    )


def _replicates(task: PairTask, spreads: Spreads, omega2: FloatArray) -> FloatArray | float:
    """What the blocks' disagreement says about the variances."""
    if task.blocks.used.shape[1] < 2:
        return 0.0
    variance = block_variance(task.blocks, spreads, omega2)
    value = task.blocks.change.T[:, :, None]
    return restricted_log_likelihood(value, variance, task.blocks.used.T[:, :, None])
