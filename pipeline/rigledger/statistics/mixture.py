"""Scale mixtures of normals: the law of a mean whose standard deviation is known up to a posterior.

Given σ the difference of two cells' means is normal; σ isn't given, so its law is the mixture over
the posterior of σ. An interval is the quantile of that mixture. With conjugate priors it would be
Student's t (Smyth 2004); here the weights are numbers.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr, ndtri

from rigledger.statistics.linear import sum_by

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray, IntArray

BINS = 48
_STEPS = 40
_TOLERANCE = 1e-10


@dataclass(frozen=True)
class ScaleMixture:
    """Symmetric mixtures of N(0, sd²), one per row.

    Attributes:
        sd: standard deviations. Shape (rows, components).
        weight: their weights; each row adds up to 1. Same shape.
    """

    sd: FloatArray
    weight: FloatArray

    def upper_tail(self, value: FloatArray) -> FloatArray:
        """Probability of exceeding `value`, one per row. Shape (rows,)."""
        tail: FloatArray = (self.weight * ndtr(-value[:, None] / self.sd)).sum(axis=1)
        return tail

    def standard_deviation(self) -> FloatArray:
        """Root of the mixture's variance, one per row."""
        root: FloatArray = np.sqrt((self.weight * self.sd**2).sum(axis=1))
        return root

    def half_width(self, level: FloatArray | float) -> FloatArray:
        """Half the width of the central interval of the given level (one, or one per row).

        Newton's method on ln of the tail's probability against the value, guarded by bisection.
        """
        tail = np.broadcast_to(0.5 * (1.0 - np.asarray(level)), len(self.sd))
        normal = -ndtri(tail)
        low, high = self.sd.min(axis=1) * normal, self.sd.max(axis=1) * normal
        value = np.clip(self.standard_deviation() * normal, low, high)
        rows = np.arange(len(value))
        for _ in range(_STEPS):
            excess, density = self._tail_and_density(value, rows)
            above = excess > tail[rows]
            low[rows] = np.where(above, value[rows], low[rows])
            high[rows] = np.where(above, high[rows], value[rows])
            step = value[rows] + np.log(excess / tail[rows]) * excess / np.maximum(density, 1e-300)
            inside = (step >= low[rows]) & (step <= high[rows])
            step = np.where(inside, step, np.sqrt(low[rows] * high[rows]))
            moving = np.abs(step - value[rows]) > _TOLERANCE * step
            value[rows] = step
            rows = rows[moving]
            if not rows.size:
                break
        return np.asarray(value, dtype=np.float64)

    def _tail_and_density(self, value: FloatArray, rows: IntArray) -> tuple[FloatArray, FloatArray]:
        """Probability of exceeding `value` and density there, for some rows."""
        sd, weight = self.sd[rows], self.weight[rows]
        z = value[rows, None] / sd
        excess = np.maximum((weight * ndtr(-z)).sum(axis=1), 1e-300)
        density = (weight * np.exp(-0.5 * z**2) / sd).sum(axis=1) / np.sqrt(2.0 * np.pi)
        return excess, density


def compress(variance: FloatArray, weight: FloatArray) -> ScaleMixture:
    """Put many weighted variances on `BINS` points evenly spaced in ln sd, one set per row.

    The points span what is there, but no more than 4.5 sds of ln sd below its mean and 6 above.
    Each variance is shared between its two neighbours in proportion to nearness, so the result
    moves continuously with its inputs (no value jumps from bin to bin by a rounding error).

    Args:
        variance: shape (rows, nodes).
        weight: shape (rows, nodes), not negative; scaled to add up to 1.
    """
    ln_sd = 0.5 * np.log(variance)
    share = weight / weight.sum(axis=1)[:, None]
    mean = (share * ln_sd).sum(axis=1)
    spread = np.sqrt((share * (ln_sd - mean[:, None]) ** 2).sum(axis=1))
    low = np.maximum(ln_sd.min(axis=1), mean - 4.5 * spread)
    high = np.minimum(ln_sd.max(axis=1), mean + 6.0 * spread)
    step = np.maximum((high - low) / (BINS - 1), 1e-12)
    place = np.clip((ln_sd - low[:, None]) / step[:, None], 0.0, BINS - 1.0)
    left = np.clip(np.floor(place), 0, BINS - 2).astype(np.int64)
    right_share = np.clip(place - left, 0.0, 1.0)
    rows = len(variance)
    flat = (np.arange(rows)[:, None] * BINS + left).reshape(-1)
    size = rows * BINS
    total = sum_by(flat, (share * (1.0 - right_share)).reshape(-1), size)
    total += sum_by(flat + 1, (share * right_share).reshape(-1), size + 1)[:size]
    sd = np.exp(low[:, None] + step[:, None] * np.arange(BINS))
    return ScaleMixture(sd, total.reshape(rows, BINS))
