from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from rigledger.statistics.errors import OutOfRangeError, ShapeError
from rigledger.statistics.small_sample import (
    largest_quantile,
    matched_student,
    quadratic_tail,
    student_draws,
)

DRAWS = 20_000


@pytest.mark.parametrize("df", [0.7, 2.0, 4.3, 30.0, 500.0])
def test_a_t_law_is_found_again_from_two_of_its_intervals(df: float) -> None:
    halves = [0.02 * stats.t.isf(tail, df) for tail in (0.05, 0.025)]
    variance, found = matched_student(*halves)
    assert (variance, found) == (pytest.approx(0.02**2, rel=1e-4), pytest.approx(df, rel=1e-3))


def test_a_normal_law_has_infinite_degrees_of_freedom() -> None:
    variance, df = matched_student(*(stats.norm.isf([0.05, 0.025]) * 0.02))
    assert (float(variance), float(df)) == (pytest.approx(0.02**2), np.inf)


def test_intervals_that_do_not_match_are_named_errors() -> None:
    with pytest.raises(ShapeError):
        matched_student([0.1, 0.2], [0.3])
    with pytest.raises(OutOfRangeError):
        matched_student(0.0, 0.1)


def test_one_t_value_squared_has_the_tail_of_student() -> None:
    df = np.array([[3.0]])
    t = np.array([1.0, 3.0, 12.0])
    normals, scales = student_draws(df, DRAWS)
    basis = np.ones((1, 1, 1))
    found = [float(quadratic_tail(np.array([x**2]), normals, scales, basis)[0]) for x in t]
    np.testing.assert_allclose(2 * stats.t.sf(t, 3), found, rtol=0.05)


def test_normal_values_have_the_tail_of_chi_square_however_far_out() -> None:
    normals, scales = student_draws(np.full((1, 3), np.inf), 2000)
    found = quadratic_tail(np.array([60.0]), normals, scales, np.eye(3)[None])
    np.testing.assert_allclose(stats.chi2.sf(60.0, 3), found, rtol=1e-9)


def test_the_largest_of_normal_values_has_the_quantile_of_their_maximum() -> None:
    normals, scales = student_draws(np.full((1, 4), np.inf), DRAWS)
    expected = stats.norm.ppf(0.5 + 0.95**0.25 / 2)
    found = largest_quantile(np.eye(4)[None], normals, scales, 0.95)
    np.testing.assert_allclose(expected, found, rtol=0.01)


def test_draws_of_a_set_do_not_depend_on_the_other_sets() -> None:
    alone = student_draws(np.array([[2.0, 5.0]]), 50)[1]
    together = student_draws(np.array([[9.0, 1.0], [2.0, 5.0]]), 50)[1]
    np.testing.assert_array_equal(alone[0], together[1])
