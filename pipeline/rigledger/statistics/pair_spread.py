"""Both cells' spread at once: nodes over (ln σ_from, ln σ_to) of each pair.

The two ln σ of a pair are correlated (same workload, same rig), and each cell's own residuals count
once: the rest of the study predicts the pair, the pair's own residuals update that.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.effects import eta_covariance, eta_mean

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray, IntArray
    from rigledger.statistics.spread import SpreadFit

_STEP = 1.05
_LINE = np.arange(-4, 6) * _STEP
NODES_FROM, NODES_TO = (axis.reshape(-1) for axis in np.meshgrid(_LINE, _LINE, indexing="ij"))


@dataclass(frozen=True)
class PairPrior:
    """ln σ of both cells of each pair, as everything but their own residuals predicts it.

    Attributes:
        mean_from, mean_to: means. Shape (pairs,).
        precision: the inverse covariance as (from-from, from-to, to-to). Shape (3, pairs).
        centre_from, centre_to, scale: where the posterior lies: node k is centre + scale × node,
            scale = (from, to-from, to) of a Cholesky factor. Shape (3, pairs).
    """

    mean_from: FloatArray
    mean_to: FloatArray
    precision: FloatArray
    centre_from: FloatArray
    centre_to: FloatArray
    scale: FloatArray


def _invert(matrix: FloatArray) -> FloatArray:
    """Inverse of symmetric 2 × 2 matrices given as (aa, ab, bb)."""
    aa, ab, bb = matrix
    inverse: FloatArray = np.stack((bb, -ab, aa)) / (aa * bb - ab**2)
    return inverse


def pair_prior(fit: SpreadFit, cell_from: IntArray, cell_to: IntArray) -> PairPrior:
    """Take both cells' factors out of the posterior and add their residual variance."""
    post, design = fit.posterior, fit.design
    left, right = design.rows(cell_from), design.rows(cell_to)
    covariance = np.stack(
        (
            eta_covariance(left, left, post.effects),
            eta_covariance(left, right, post.effects),
            eta_covariance(right, right, post.effects),
        )
    )
    # A trace of independent variance keeps the matrix regular where both cells have the same
    # effects (then η is one and the same variable).
    covariance[0] += 1e-6
    covariance[2] += 1e-6
    precision = _invert(covariance)
    eta = np.stack([eta_mean(side, post.effects) for side in (left, right)])
    shift = np.stack(
        (
            precision[0] * eta[0] + precision[1] * eta[1] - post.site_shift[cell_from],
            precision[1] * eta[0] + precision[2] * eta[1] - post.site_shift[cell_to],
        )
    )
    precision[0] -= post.site_precision[cell_from]
    precision[2] -= post.site_precision[cell_to]
    cavity = _invert(precision)
    mean_from = cavity[0] * shift[0] + cavity[1] * shift[1]
    mean_to = cavity[1] * shift[0] + cavity[2] * shift[1]
    cavity[0] += fit.hyper.residual_sd**2
    cavity[2] += fit.hyper.residual_sd**2
    return _locate(fit, cell_from, cell_to, (mean_from, mean_to), cavity)


def _locate(
    fit: SpreadFit,
    cell_from: IntArray,
    cell_to: IntArray,
    mean: tuple[FloatArray, FloatArray],
    covariance: FloatArray,
) -> PairPrior:
    """Place the nodes by a normal approximation of the pair's posterior."""
    precision = _invert(covariance)
    post = fit.posterior
    updated, pull = precision.copy(), []
    for k, cell in ((0, cell_from), (2, cell_to)):
        own = 1.0 / post.own_variance[cell] - 1.0 / post.cavity_variance[cell]
        own = np.maximum(own, 0.0)
        target = post.own_mean[cell] * (own + 1.0 / post.cavity_variance[cell])
        pull.append(target - post.cavity_mean[cell] / post.cavity_variance[cell])
        updated[k] += own
    shift_from = precision[0] * mean[0] + precision[1] * mean[1] + pull[0]
    shift_to = precision[1] * mean[0] + precision[2] * mean[1] + pull[1]
    posterior = _invert(updated)
    first = np.sqrt(posterior[0])
    slope = posterior[1] / first
    scale = np.stack((first, slope, np.sqrt(posterior[2] - slope**2)))
    return PairPrior(
        mean_from=mean[0],
        mean_to=mean[1],
        precision=precision,
        centre_from=posterior[0] * shift_from + posterior[1] * shift_to,
        centre_to=posterior[1] * shift_from + posterior[2] * shift_to,
        scale=scale,
    )


def nodes_of(prior: PairPrior) -> tuple[FloatArray, FloatArray, FloatArray]:
    """Nodes of ln σ of both cells, and the log prior density there. Shapes (pairs, nodes)."""
    x_from = prior.centre_from[:, None] + prior.scale[0][:, None] * NODES_FROM
    x_to = (
        prior.centre_to[:, None]
        + prior.scale[1][:, None] * NODES_FROM
        + prior.scale[2][:, None] * NODES_TO
    )
    u, v = x_from - prior.mean_from[:, None], x_to - prior.mean_to[:, None]
    aa, ab, bb = (row[:, None] for row in prior.precision)
    return x_from, x_to, -0.5 * (aa * u**2 + 2.0 * ab * u * v + bb * v**2)
