from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from rigledger.statistics.laws import (
    chi_square_tail,
    chi_square_upper,
    f_tail,
    f_upper,
    normal_upper,
    student_tail,
    student_upper,
)
from rigledger.statistics.multiplicity import benjamini_hochberg

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

# Tables are hashed: another last digit would be another release.
SHARES = st.floats(1e-300, 1.0 - 1e-12)
DF = st.floats(0.01, 1e9)
DF_OR_INFINITE = DF | st.just(np.inf)
VALUES = st.floats(0.0, 1e12)
ANY_VALUE = st.floats(allow_nan=False)


@given(tail=SHARES)
def test_normal_quantiles_are_those_of_scipy_stats_to_the_last_digit(tail: float) -> None:
    assert normal_upper(tail) == stats.norm.isf(tail)


@given(t=ANY_VALUE, tail=SHARES, df=DF_OR_INFINITE)
def test_student_is_that_of_scipy_stats_to_the_last_digit(t: float, tail: float, df: float) -> None:
    assert student_tail(t, df) == stats.t.sf(t, df)
    assert student_upper(tail, df) == stats.t.isf(tail, df)


@given(value=VALUES, tail=SHARES, df=DF)
def test_chi_square_is_that_of_scipy_stats_to_the_last_digit(
    value: float, tail: float, df: float
) -> None:
    assert chi_square_tail(value, df) == stats.chi2.sf(value, df)
    assert chi_square_upper(tail, df) == stats.chi2.isf(tail, df)


@given(value=VALUES, tail=st.floats(1e-9, 0.999), above=DF, below=DF)
def test_f_is_that_of_scipy_stats_to_the_last_digit(
    value: float, tail: float, above: float, below: float
) -> None:
    assert f_tail(value, above, below) == stats.f.sf(value, above, below)
    assert f_upper(tail, above, below) == stats.f.isf(tail, above, below)


@given(p=st.lists(st.floats(0.0, 1.0) | st.sampled_from([0.0, 0.05, 1.0]), max_size=30))
def test_false_discovery_rates_are_those_of_scipy_stats_to_the_last_digit(p: list[float]) -> None:
    expected = stats.false_discovery_control(p, method="bh").tolist() if p else []
    assert benjamini_hochberg(p).tolist() == expected


@pytest.mark.parametrize("law", [student_tail, chi_square_tail])
def test_many_values_and_degrees_of_freedom_are_taken_at_once(
    law: Callable[..., NDArray[np.float64]],
) -> None:
    values, df = np.array([0.5, 1.0, 2.0]), np.array([[1.0], [4.0]])
    assert law(values, df).tolist() == [[float(law(v, d)) for v in values] for d in (1.0, 4.0)]
