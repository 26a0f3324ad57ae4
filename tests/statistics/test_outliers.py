from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from rigledger.statistics.checks import NoVarianceError
from rigledger.statistics.errors import OutOfRangeError, TooFewValuesError
from rigledger.statistics.outliers import (
    cochran_critical,
    dixon_r10,
    dixon_r10_critical,
    generalised_esd,
    grubbs,
    grubbs_critical,
)

SAMPLES = st.lists(st.integers(-1000, 1000), min_size=4, max_size=15)

if TYPE_CHECKING:
    from collections.abc import Callable


def test_p_is_alpha_at_the_critical_value() -> None:
    # A sample whose farthest value has exactly the critical G: shrink the outlier onto it.
    critical = grubbs_critical(6, 0.05, 2)
    low, high = 1.0, 100.0
    for _ in range(200):
        middle = (low + high) / 2
        low, high = (
            (middle, high)
            if grubbs([0, 1, 2, 3, 4, middle]).statistic < critical
            else (low, middle)
        )
    assert grubbs([0, 1, 2, 3, 4, low]).p == pytest.approx(0.05, rel=1e-6)


def test_two_runs_that_agree_make_the_third_an_outlier_at_three_values() -> None:
    # Why this test is not the doubtful-run rule: 0.1 % apart is judged by two runs that agree.
    assert grubbs([100.0, 100.0001, 100.1]).p < 0.01


def test_all_of_the_range_on_one_side_has_p_zero_not_nan() -> None:
    assert grubbs([0.0, 0.0, 1.0]).p == pytest.approx(0.0, abs=1e-6)
    assert dixon_r10([0.0, 0.0, 1.0]).statistic == 1.0


@settings(deadline=None)
@given(SAMPLES, st.floats(0.1, 10), st.floats(-50, 50))
def test_scale_and_shift_change_no_statistic(sample: list[int], scale: float, shift: float) -> None:
    values = np.array(sample, dtype=float)
    assume(np.ptp(values) > 0)
    for test in (grubbs, dixon_r10):
        expected, moved = test(values), test(scale * values + shift)
        assert expected.statistic == pytest.approx(moved.statistic, rel=1e-6)
        assert expected.p == pytest.approx(moved.p, rel=1e-4, abs=1e-9)


@settings(deadline=None)
@given(st.lists(st.integers(-1000, 1000), min_size=4, max_size=15, unique=True))
def test_the_order_of_values_moves_only_the_position(sample: list[int]) -> None:
    there, back = grubbs(sample), grubbs(sample[::-1])
    assert there.statistic == pytest.approx(back.statistic, rel=1e-12)
    expected = abs(sample[there.position] - np.mean(sample))
    assert expected == pytest.approx(abs(sample[::-1][back.position] - np.mean(sample)))


def test_generalised_esd_finds_nothing_in_an_even_sample() -> None:
    result = generalised_esd(np.linspace(0, 1, 30), 3)
    assert (result.outliers, len(result.positions)) == (0, 3)


@pytest.mark.parametrize("test", [grubbs, dixon_r10])
def test_equal_or_too_few_values_are_named_errors(test: Callable[..., Any]) -> None:
    with pytest.raises(NoVarianceError):
        test([1.0, 1.0, 1.0])
    with pytest.raises(TooFewValuesError):
        test([1.0, 2.0])


def test_settings_out_of_range_are_named_errors() -> None:
    with pytest.raises(OutOfRangeError):
        generalised_esd([1.0, 2.0, 3.0, 4.0], 0)
    with pytest.raises(OutOfRangeError):
        dixon_r10_critical(31)
    with pytest.raises(TooFewValuesError):
        cochran_critical(1, 3)
