from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rigledger.statistics.checks import NoVarianceError
from rigledger.statistics.errors import ShapeError, TooFewValuesError
from rigledger.statistics.interlaboratory import (
    algorithm_a,
    h_critical,
    k_critical,
    precision,
    robust_z,
)

ROWS = st.lists(st.lists(st.integers(0, 1000), min_size=3, max_size=3), min_size=3, max_size=8).map(
    lambda rows: np.array(rows, dtype=float)
)

if TYPE_CHECKING:
    from numpy.typing import NDArray


@settings(deadline=None)
@given(ROWS)
def test_h_and_k_keep_their_sums_and_limits(rows: NDArray[np.float64]) -> None:
    assume(rows.var(axis=1).sum() > 0)
    assume(np.ptp(rows.mean(axis=1)) > 1e-9)
    result = precision(rows)
    count = len(rows)
    assert result.h.sum() == pytest.approx(0, abs=1e-7)
    assert (result.h**2).sum() == pytest.approx(count - 1)
    assert (result.k**2).sum() == pytest.approx(count)
    assert result.reproducibility_sd >= result.repeatability_sd


@settings(deadline=None)
@given(ROWS, st.floats(0.1, 10), st.floats(-50, 50))
def test_scale_and_shift_leave_h_and_k_alone(
    rows: NDArray[np.float64], scale: float, shift: float
) -> None:
    assume(rows.var(axis=1).sum() > 0)
    assume(np.ptp(rows.mean(axis=1)) > 1e-9)
    plain, moved = precision(rows), precision(scale * rows + shift)
    np.testing.assert_allclose(plain.h, moved.h, atol=1e-6)
    np.testing.assert_allclose(plain.k, moved.k, atol=1e-6)
    assert moved.reproducibility_sd == pytest.approx(scale * plain.reproducibility_sd, rel=1e-6)


def test_robust_z_of_one_bad_laboratory_is_large_and_of_the_rest_small() -> None:
    z = robust_z([1.0, 1.1, 0.9, 1.05, 0.95, 3.0])
    assert z[-1] > 10
    assert np.abs(z[:-1]).max() < 2


@settings(deadline=None)
@given(st.lists(st.integers(-100, 100), min_size=5, max_size=20), st.integers(1, 9))
def test_algorithm_a_moves_and_scales_with_the_values(values: list[int], scale: float) -> None:
    sample = np.array(values, dtype=float)
    plain, moved = algorithm_a(sample), algorithm_a(7 - scale * sample)
    assert moved.mean == pytest.approx(7 - scale * plain.mean, rel=1e-6, abs=1e-6)
    assert moved.sd == pytest.approx(scale * plain.sd, rel=1e-5, abs=1e-6)


def test_mostly_equal_values_have_a_robust_sd_of_zero_and_no_z() -> None:
    assert algorithm_a([5.0, 5.0, 5.0, 5.0, 9.0]).sd == 0.0
    with pytest.raises(NoVarianceError):
        robust_z([5.0, 5.0, 5.0, 5.0, 9.0])


def test_too_little_data_is_a_named_error() -> None:
    with pytest.raises(ShapeError):
        precision([[1.0, 2.0]])
    with pytest.raises(NoVarianceError):
        precision([[1.0, 1.0], [2.0, 2.0]])
    with pytest.raises(TooFewValuesError):
        algorithm_a([1.0])
    with pytest.raises(ShapeError):
        h_critical(2)
    with pytest.raises(ShapeError):
        k_critical(3, 1)
