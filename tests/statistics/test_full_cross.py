from __future__ import annotations

from itertools import chain, combinations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.statistics.errors import OutOfRangeError, ShapeError
from rigledger.statistics.full_cross import largest_full_cross

MASKS = st.integers(2, 5).flatmap(
    lambda width: st.lists(
        st.lists(st.booleans(), min_size=width, max_size=width), min_size=2, max_size=5
    )
)


def subsets(count: int) -> list[tuple[int, ...]]:
    return list(
        chain.from_iterable(combinations(range(count), size) for size in range(2, count + 1))
    )


def test_all_rigs_of_a_complete_cross_are_taken() -> None:
    assert largest_full_cross(np.ones((4, 2), dtype=bool)) == ((0, 1, 2, 3), (0, 1))


def test_a_rig_that_is_missing_costs_its_platform_where_that_costs_least() -> None:
    measured = np.ones((4, 2), dtype=bool)
    measured[2, 1] = False
    assert largest_full_cross(measured) == ((0, 1, 3), (0, 1))


def test_rigs_that_do_not_cross_give_nothing() -> None:
    assert largest_full_cross(np.eye(3, dtype=bool)) == ((), ())


@settings(deadline=None)
@given(MASKS)
def test_no_other_full_cross_holds_more_rigs(rows: list[list[bool]]) -> None:
    mask = np.array(rows)
    platforms, cards = largest_full_cross(mask)
    sizes = [
        len(p) * len(c)
        for p in subsets(mask.shape[0])
        for c in subsets(mask.shape[1])
        if mask[np.ix_(p, c)].all()
    ]
    assert max(sizes, default=0) == len(platforms) * len(cards)
    assert mask[np.ix_(platforms, cards)].all()


def test_a_cross_too_large_to_search_is_a_named_error() -> None:
    with pytest.raises(OutOfRangeError):
        largest_full_cross(np.ones((17, 17), dtype=bool))
    with pytest.raises(ShapeError):
        largest_full_cross(np.ones(3, dtype=bool))
