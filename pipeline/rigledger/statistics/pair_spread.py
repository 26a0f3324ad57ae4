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


def _times(matrix: FloatArray, pair: FloatArray) -> FloatArray:
    """Product of symmetric 2 × 2 matrices, given as (aa, ab, bb), and vectors (a, b)."""
    aa, ab, bb = matrix
    product: FloatArray = np.stack((aa * pair[0] + ab * pair[1], ab * pair[0] + bb * pair[1]))
    return product


def pair_prior(fit: SpreadFit, cell_from: IntArray, cell_to: IntArray) -> PairPrior:
    """Take both cells' factors out of the posterior and add their residual variance."""
    post, cells = fit.posterior, (cell_from, cell_to)
    eta, covariance = _joint_eta(fit, cells)
    precision = _invert(covariance)
    shift = _times(precision, eta) - np.stack([post.site_shift[cell] for cell in cells])
    precision[0] -= post.site_precision[cell_from]
    precision[2] -= post.site_precision[cell_to]
    cavity = _invert(precision)
    mean = _times(cavity, shift)
    cavity[0] += fit.hyper.residual_sd**2
    cavity[2] += fit.hyper.residual_sd**2
    return _locate(fit, cells, mean, _invert(cavity))


def _joint_eta(fit: SpreadFit, cells: tuple[IntArray, IntArray]) -> tuple[FloatArray, FloatArray]:
    """Posterior mean and covariance of both cells' η. Shapes (2, pairs) and (3, pairs)."""
    effects = fit.posterior.effects
    left, right = (fit.design.rows(cell) for cell in cells)
    covariance = np.stack(
        [eta_covariance(*sides, effects) for sides in ((left, left), (left, right), (right, right))]
    )
    # A trace of independent variance keeps the matrix regular where both cells have the same
    # effects (then η is one and the same variable).
    covariance[0] += 1e-6
    covariance[2] += 1e-6
    return np.stack([eta_mean(side, effects) for side in (left, right)]), covariance


def _locate(
    fit: SpreadFit, cells: tuple[IntArray, IntArray], mean: FloatArray, precision: FloatArray
) -> PairPrior:
    """Place the nodes by a normal approximation of the pair's posterior."""
    own, pull = np.stack([_own_part(fit, cell) for cell in cells], axis=1)
    updated = precision.copy()
    updated[0] += own[0]
    updated[2] += own[1]
    posterior = _invert(updated)
    centre = _times(posterior, _times(precision, mean) + pull)
    first = np.sqrt(posterior[0])
    slope = posterior[1] / first
    scale = np.stack((first, slope, np.sqrt(posterior[2] - slope**2)))
    return PairPrior(mean[0], mean[1], precision, centre[0], centre[1], scale)


def _own_part(fit: SpreadFit, cell: IntArray) -> tuple[FloatArray, FloatArray]:
    """Natural parameters (precision, pull) of what a cell's own residuals say of its ln σ."""
    post = fit.posterior
    cavity = 1.0 / post.cavity_variance[cell]
    own = np.maximum(1.0 / post.own_variance[cell] - cavity, 0.0)
    pull = post.own_mean[cell] * (own + cavity) - post.cavity_mean[cell] * cavity
    return own, pull


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
