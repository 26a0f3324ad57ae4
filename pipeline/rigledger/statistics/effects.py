"""The effects on ln σ and their normal posterior.

There may be hundreds of labels (workloads, rigs), but each cell has one label of each factor. The
factor with the most labels is eliminated first: its block of the precision matrix is diagonal, so
what is left to invert has the size of all other effects (a Schur complement).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.linear import inverse_and_log_determinant, sum_by, times

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.statistics.inputs import FloatArray, IntArray

_MEAN, _NO_FACTOR = -1, -2


@dataclass(frozen=True)
class Design:
    """Which effects enter each cell's ln σ: the mean, and one label of each factor.

    Attributes:
        names: the factors that stay in.
        columns: positions of the cell's effects among all but the largest factor's; the first is
            the mean. Shape (cells, factors).
        group: which factor each of those effects belongs to; -1 for the mean. Shape (effects,).
        large: the cell's label of the largest factor. Shape (cells,).
        large_group: which factor that is; -2 if there is none.
        large_size: how many labels it has.
    """

    names: tuple[str, ...]
    columns: IntArray
    group: IntArray
    large: IntArray
    large_group: int
    large_size: int

    def rows(self, cells: IntArray) -> Design:
        """The same effects for some cells."""
        return Design(
            self.names,
            self.columns[cells],
            self.group,
            self.large[cells],
            self.large_group,
            self.large_size,
        )


@dataclass(frozen=True)
class Hyperparameters:
    """Standard deviations of the effects of each factor, of the residual; prior of the mean."""

    factor_sd: FloatArray
    residual_sd: float
    mean: float
    mean_sd: float


@dataclass(frozen=True)
class Effects:
    """Normal posterior of the effects; B is the block between the largest factor and the rest.

    Attributes:
        mean: of all but the largest factor's effects. Shape (r,).
        covariance: theirs. Shape (r, r).
        large_mean: of the largest factor's effects. Shape (d,).
        large_variance: inverse of their diagonal block of the precision. Shape (d,).
        slope: large_variance × B. Shape (d, r).
        gain: slope × covariance. Shape (d, r).
        log_determinant: of the whole precision matrix.
    """

    mean: FloatArray
    covariance: FloatArray
    large_mean: FloatArray
    large_variance: FloatArray
    slope: FloatArray
    gain: FloatArray
    log_determinant: float


def make_design(factors: Mapping[str, IntArray], cells: int) -> Design:
    """Number the effects, factors in the order of their names.

    A factor with a single label explains nothing, one with as many labels as cells is the
    residual; both drop out.
    """
    coded = {}
    for name in sorted(factors):
        labels, inverse = np.unique(np.asarray(factors[name]), return_inverse=True)
        if 1 < len(labels) < cells:
            coded[name] = (inverse.reshape(-1).astype(np.int64), len(labels))
    names = tuple(coded)
    sizes = [size for _, size in coded.values()]
    large = int(np.argmax(sizes)) if sizes else _NO_FACTOR
    columns, group = [np.zeros(cells, dtype=np.int64)], [_MEAN]
    for k, (inverse, size) in enumerate(coded.values()):
        if k != large:
            columns.append(inverse + len(group))
            group += [k] * size
    label, size = coded[names[large]] if sizes else (np.zeros(cells, dtype=np.int64), 1)
    return Design(names, np.stack(columns, axis=1), np.array(group), label, large, size)


def prior_precision(design: Design, hyper: Hyperparameters) -> tuple[FloatArray, float]:
    """Prior precision of the effects of all but the largest factor, and of the largest's."""
    sd = np.concatenate((hyper.factor_sd, [hyper.mean_sd]))[design.group]
    none = design.large_group == _NO_FACTOR
    large = 1e12 if none else 1.0 / float(hyper.factor_sd[design.large_group]) ** 2
    return 1.0 / sd**2, large


def prior_pull(design: Design, hyper: Hyperparameters) -> FloatArray:
    """Prior precision × prior mean: only the overall mean has one."""
    pull = np.where(design.group == _MEAN, hyper.mean / hyper.mean_sd**2, 0.0)
    return np.asarray(pull, dtype=np.float64)


def site_pull(design: Design, shift: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Sum of the cells' factors' first natural parameters over each effect."""
    width = design.columns.shape[1]
    rest = sum_by(design.columns.reshape(-1), np.repeat(shift, width), len(design.group))
    return rest, sum_by(design.large, shift, design.large_size)


def combine(design: Design, hyper: Hyperparameters, tau: FloatArray, shift: FloatArray) -> Effects:
    """Posterior of the effects, given a normal factor exp(shift η - tau η² / 2) for each cell."""
    r, width = len(design.group), design.columns.shape[1]
    weights = np.repeat(tau, width)
    prior, large_prior = prior_precision(design, hyper)
    diagonal = large_prior + sum_by(design.large, tau, design.large_size)
    place = (design.large[:, None] * r + design.columns).reshape(-1)
    block = sum_by(place, weights, design.large_size * r).reshape(-1, r)
    both = (design.columns[:, :, None] * r + design.columns[:, None, :]).reshape(-1)
    rest = sum_by(both, np.repeat(weights, width), r * r).reshape(r, r)
    rest[np.arange(r), np.arange(r)] += prior
    slope = block / diagonal[:, None]
    schur = rest - np.einsum("di,dj->ij", slope, block, optimize=False)
    covariance, log_determinant = inverse_and_log_determinant(schur)
    pull, large_pull = site_pull(design, shift)
    pull = pull + prior_pull(design, hyper)
    mean = times(covariance, pull - (slope * large_pull[:, None]).sum(axis=0))
    return Effects(
        mean=mean,
        covariance=covariance,
        large_mean=large_pull / diagonal - times(slope, mean),
        large_variance=1.0 / diagonal,
        slope=slope,
        gain=np.einsum("di,ij->dj", slope, covariance, optimize=False),
        log_determinant=log_determinant + float(np.sum(np.log(diagonal))),
    )


def eta_mean(design: Design, effects: Effects) -> FloatArray:
    """Posterior mean of η of each cell."""
    mean: FloatArray = effects.mean[design.columns].sum(axis=1) + effects.large_mean[design.large]
    return mean


def eta_covariance(left: Design, right: Design, effects: Effects) -> FloatArray:
    """Posterior covariance of η of each row of one design with the same row of the other."""
    rest = effects.covariance[left.columns[:, :, None], right.columns[:, None, :]].sum(axis=(1, 2))
    cross = effects.gain[left.large[:, None], right.columns].sum(axis=1)
    cross = cross + effects.gain[right.large[:, None], left.columns].sum(axis=1)
    large = _large_covariance(left, right, effects)
    own = np.where(left.large == right.large, effects.large_variance[left.large], 0.0)
    total: FloatArray = rest - cross + large + own
    return total


def _large_covariance(left: Design, right: Design, effects: Effects) -> FloatArray:
    """What the rest's uncertainty does to the largest factor's effects."""
    if left.large is right.large or np.array_equal(left.large, right.large):
        same: FloatArray = (effects.gain * effects.slope).sum(axis=1)[left.large]
        return same
    mixed: FloatArray = (effects.gain[left.large] * effects.slope[right.large]).sum(axis=1)
    return mixed


def second_moments(design: Design, effects: Effects) -> tuple[FloatArray, IntArray]:
    """Posterior mean of each squared effect, and the factor it belongs to."""
    rest = effects.mean**2 + np.diagonal(effects.covariance)
    large = effects.large_variance + (effects.gain * effects.slope).sum(axis=1)
    group = np.concatenate((design.group, np.full(design.large_size, design.large_group)))
    return np.concatenate((rest, effects.large_mean**2 + large)), group
