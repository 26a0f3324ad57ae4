from __future__ import annotations

import numpy as np
import pytest

from rigledger.statistics.errors import OutOfRangeError, ShapeError
from rigledger.statistics.geometric_mean import overall_change
from rigledger.statistics.title_sessions import session_covariance

APART = np.array([[-1.0, 1.0]])


def test_titles_of_the_same_sessions_share_all_of_what_is_common() -> None:
    found = session_covariance([0.04, 0.09], [1.0, 0.25], [0.5, 0.5], np.repeat(APART, 2, axis=0))
    own, both = [0.04, 0.0225], 0.5 * 0.2 * 0.15
    np.testing.assert_allclose(found, [[own[0], both], [both, own[1]]])


def test_titles_of_different_sessions_share_nothing_and_opposite_ones_never_cancel() -> None:
    weights = [[-1.0, 1.0, 0.0, 0.0], [0.0, 0.0, -1.0, 1.0], [1.0, -1.0, 0.0, 0.0]]
    found = session_covariance([0.01] * 3, [1.0] * 3, [1.0] * 3, weights)
    np.testing.assert_allclose(found, np.eye(3) * 0.01)


def test_a_session_in_common_among_several_shares_a_part() -> None:
    # Half of one title's sessions are the other's: the cosine of (1, 1) / 2 and (1, 0).
    found = session_covariance([0.01] * 2, [1.0] * 2, [1.0] * 2, [[0.5, 0.5], [1.0, 0.0]])
    assert found[0, 1] == pytest.approx(0.01 / 2**0.5)


def test_a_shift_of_all_titles_does_not_average_out() -> None:
    one = overall_change([0.02], [0.01], 7, session_covariance=[[0.01**2]])
    four = overall_change([0.02] * 4, [0.01] * 4, 7, session_covariance=np.full((4, 4), 0.01**2))
    apart = overall_change([0.02] * 4, [0.01] * 4, 7)
    assert four.these_titles.upper == pytest.approx(one.these_titles.upper)
    assert four.these_titles == four.titles_like_these
    assert apart.these_titles.upper < 0.6 * four.these_titles.upper + 0.4 * four.change_pct


def test_wrong_shapes_and_shares_are_named() -> None:
    with pytest.raises(ShapeError):
        session_covariance([0.01], [1.0], [1.0], [1.0])
    with pytest.raises(OutOfRangeError):
        session_covariance([0.01], [1.5], [1.0], [[1.0]])
    with pytest.raises(ShapeError):
        overall_change([0.1, 0.2], [0.1, 0.1], session_covariance=[[0.01]])
    with pytest.raises(OutOfRangeError):
        overall_change([0.1], [0.1], session_covariance=[[-0.01]])
