from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from rigledger.statistics.errors import OutOfRangeError, ShapeError, TooFewValuesError
from rigledger.statistics.geometric_mean import geometric_mean, overall_change

CHANGES = st.lists(st.floats(-0.5, 0.5), min_size=2, max_size=12)

if TYPE_CHECKING:
    from random import Random


def test_one_title_has_an_interval_for_itself_and_none_for_others_like_it() -> None:
    overall = overall_change([0.1], [0.02])
    half = stats.norm.isf(0.025) * 0.02
    assert overall.titles == 1
    assert overall.change_pct == pytest.approx(100 * np.expm1(0.1))
    assert overall.these_titles.lower == pytest.approx(100 * np.expm1(0.1 - half))
    assert overall.these_titles.upper == pytest.approx(100 * np.expm1(0.1 + half))
    assert overall.titles_like_these is None
    assert overall.between_titles_sd_pct is None


def test_titles_like_these_is_students_interval_over_titles() -> None:
    changes = np.array([0.02, 0.05, 0.11, -0.01])
    overall = overall_change(changes, np.zeros(4))
    expected = stats.ttest_1samp(changes, 0).confidence_interval(0.95)
    assert overall.titles_like_these.lower == pytest.approx(100 * np.expm1(expected.low))
    assert overall.titles_like_these.upper == pytest.approx(100 * np.expm1(expected.high))
    assert overall.these_titles.lower == pytest.approx(overall.these_titles.upper)


def test_degrees_of_freedom_of_these_titles_are_combined_as_satterthwaite_does() -> None:
    # Two equal variances with 4 degrees of freedom each: 8 together.
    overall = overall_change([0.0, 0.0], [0.1, 0.1], 4)
    half = stats.t.isf(0.025, 8) * 0.1 / 2**0.5
    assert overall.these_titles.upper == pytest.approx(100 * np.expm1(half))


def test_titles_that_agree_by_luck_are_no_better_known_than_their_own_errors_allow() -> None:
    overall = overall_change([0.01, 0.01, 0.01], [0.02, 0.02, 0.02])
    assert overall.between_titles_sd_pct == 0
    assert overall.titles_like_these == overall.these_titles


@settings(deadline=None)
@given(CHANGES, st.floats(0, 0.1), st.floats(1, 50), st.floats(0, 1))
def test_titles_like_these_are_never_better_known_than_these(
    changes: list[float], error: float, df: float, common: float
) -> None:
    size = len(changes)
    shared = np.full((size, size), common * error**2 / 2)
    np.fill_diagonal(shared, error**2 / 2)
    found = overall_change(changes, [error] * size, df, session_covariance=shared)
    assert found.titles_like_these.lower <= found.these_titles.lower
    assert found.titles_like_these.upper >= found.these_titles.upper


@settings(deadline=None)
@given(CHANGES)
def test_swapping_the_levels_inverts_the_change(changes: list[float]) -> None:
    errors = np.full(len(changes), 0.01)
    forth, back = overall_change(changes, errors), overall_change(-np.array(changes), errors)
    product = (1 + forth.change_pct / 100) * (1 + back.change_pct / 100)
    assert product == pytest.approx(1)
    ends = (1 + forth.these_titles.lower / 100) * (1 + back.these_titles.upper / 100)
    assert ends == pytest.approx(1)


@settings(deadline=None)
@given(CHANGES, st.randoms(use_true_random=False))
def test_the_order_of_titles_does_not_matter(changes: list[float], random: Random) -> None:
    shuffled = list(changes)
    random.shuffle(shuffled)
    errors = np.full(len(changes), 0.01)
    forth, other = overall_change(changes, errors), overall_change(shuffled, errors)
    assert forth.change_pct == pytest.approx(other.change_pct, abs=1e-9)
    assert forth.titles_like_these.lower == pytest.approx(other.titles_like_these.lower, abs=1e-9)


def test_no_title_and_bad_errors_are_named_errors() -> None:
    with pytest.raises(TooFewValuesError):
        overall_change([], [])
    with pytest.raises(ShapeError):
        overall_change([0.1, 0.2], [0.1])
    with pytest.raises(OutOfRangeError):
        overall_change([0.1], [-0.1])
    with pytest.raises(OutOfRangeError):
        geometric_mean([1.0, 0.0])
