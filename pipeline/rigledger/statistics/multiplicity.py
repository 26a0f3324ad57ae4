"""Judging many p values at once: Benjamini-Hochberg q values and Holm's adjusted p values."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.checks import finite, one_dimensional
from rigledger.statistics.errors import OutOfRangeError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray


def benjamini_hochberg(p: ArrayLike) -> FloatArray:
    """Returns the q value of each p value: the false discovery rate at which it is a finding.

    Benjamini Y, Hochberg Y (1995), J R Stat Soc B 57(1):289-300, step-up procedure: the
    least of m p(j) / j over the j-th smallest and all larger ones, as
    ``scipy.stats.false_discovery_control`` has it. Valid for independent tests and for those that
    depend positively on each other.

    Args:
        p: p values of one family, in any order, shape (m,). A test that could not be made
            has no p value: leave it out, it is not a member of the family.

    Returns:
        q values in the order of ``p``, shape (m,); empty for an empty family.

    Raises:
        NotFiniteError: a p value is NaN or infinite.
        OutOfRangeError: a p value lies outside 0 to 1.
        ShapeError: ``p`` has not one dimension.
    """
    values = _p_values(p)
    order = np.argsort(values)
    stepped = values[order] * (values.size / np.arange(1, values.size + 1))
    adjusted = np.empty_like(values)
    adjusted[order] = np.minimum(np.minimum.accumulate(stepped[::-1])[::-1], 1.0)
    return adjusted


def holm(p: ArrayLike) -> FloatArray:
    """Returns Holm's step-down adjusted p values, which bound the chance of any false finding.

    Holm S (1979), A simple sequentially rejective multiple test procedure, Scand J Stat
    6(2):65-70. Valid under any dependence between the tests.

    Args:
        p: p values of one family, in any order, shape (m,).

    Returns:
        Adjusted p values in the order of ``p``, shape (m,); empty for an empty family.

    Raises:
        NotFiniteError: a p value is NaN or infinite.
        OutOfRangeError: a p value lies outside 0 to 1.
        ShapeError: ``p`` has not one dimension.
    """
    values = _p_values(p)
    order = np.argsort(values, kind="stable")
    factors = np.arange(values.size, 0, -1)
    stepped = np.minimum(np.maximum.accumulate(values[order] * factors), 1.0)
    adjusted = np.empty_like(values)
    adjusted[order] = stepped
    return adjusted


def _p_values(p: ArrayLike) -> FloatArray:
    values = one_dimensional(finite(p, "p values"), "p values")
    outside = values[(values < 0) | (values > 1)]
    if outside.size:
        raise OutOfRangeError("p values", float(outside[0]), "between 0 and 1")
    return values
