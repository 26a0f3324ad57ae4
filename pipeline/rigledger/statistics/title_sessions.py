"""What the changes of several titles have in common because they were measured in one session."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.checks import finite, positive, same_shape
from rigledger.statistics.errors import OutOfRangeError, ShapeError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray


def session_covariance(
    variances: ArrayLike,
    session_share: ArrayLike,
    session_common: ArrayLike,
    session_weights: ArrayLike,
) -> FloatArray:
    """Returns the covariance matrix of the sessions' part in the errors of several titles.

    A title's change is a weighted sum over sessions; two titles err together as far as their
    weights agree (the cosine between them), times the share of a session's shift that its cells
    have in common. Titles with opposite weights would cancel; that is never counted on.

    Args:
        variances: of each title's ln change, shape (k,).
        session_share: share of it that sessions make, 0 to 1, shape (k,).
        session_common: share of a session's shift common to its cells, 0 to 1, shape (k,).
        session_weights: weight of each session in each title's change, shape (k, sessions).

    Returns:
        Shape (k, k): `session_covariance` of `overall_change`.

    Raises:
        ShapeError: the arrays do not match.
        NotFiniteError, OutOfRangeError: a number is NaN, infinite or out of range.
    """
    weights = np.asarray(session_weights, dtype=np.float64)
    variance = positive(variances, "variances")
    share, common = finite(session_share, "session share"), finite(session_common, "session common")
    same_shape([variance, share, common], "session shares")
    if weights.ndim != 2 or len(weights) != len(variance):
        raise ShapeError("session weights", weights.shape, "titles by sessions")
    for name, values in (("session share", share), ("session common", common)):
        if values.min() < 0 or values.max() > 1:
            raise OutOfRangeError(name, float(values.min()), "0 to 1")
    sd = np.sqrt(variance * share)
    together = np.minimum(common[:, None], common) * _agreement(weights)
    np.fill_diagonal(together, 1.0)
    return np.asarray(sd[:, None] * sd * together)


def _agreement(weights: FloatArray) -> FloatArray:
    """Cosines between the rows, none below zero; a row without sessions agrees with nothing."""
    length = np.sqrt((weights**2).sum(axis=1))
    unit = weights / np.where(length > 0, length, 1.0)[:, None]
    # No matrix product: its sums may depend on the number of threads.
    cosine = np.einsum("is,js->ij", unit, unit, optimize=False)
    return np.asarray(np.clip(cosine, 0.0, 1.0))
