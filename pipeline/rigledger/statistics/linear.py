"""Small dense linear algebra whose bits don't depend on the number of threads.

Libraries split matrix products over threads and add in another order then; a published interval
would change in its last digits from machine to machine. These loops over numpy's elementwise
operations don't.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from rigledger.statistics.inputs import FloatArray, IntArray


def inverse_and_log_determinant(matrix: FloatArray) -> tuple[FloatArray, float]:
    """Invert a symmetric positive definite matrix by Gauss-Jordan sweeps (Goodnight 1979).

    Args:
        matrix: shape (q, q).

    Returns:
        The inverse, shape (q, q), and the natural logarithm of the determinant.
    """
    swept = matrix.copy()
    log_determinant = 0.0
    for k in range(len(swept)):
        pivot = swept[k, k]
        log_determinant += float(np.log(pivot))
        row = swept[k] / pivot
        column = swept[:, k].copy()
        swept -= np.multiply.outer(column, row)
        swept[k] = row
        swept[:, k] = -column / pivot
        swept[k, k] = 1.0 / pivot
    return 0.5 * (swept + swept.T), log_determinant


def sum_by(index: IntArray, weight: FloatArray, size: int) -> FloatArray:
    """Sum the weights that fall on each of `size` places, in the order given."""
    return np.bincount(index, weight, minlength=size).astype(np.float64, copy=False)


def times(matrix: FloatArray, vector: FloatArray) -> FloatArray:
    """Multiply a matrix, shape (p, q), by a vector, shape (q,)."""
    product: FloatArray = (matrix * vector).sum(axis=1)
    return product
