from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from scipy import stats

from rigledger.statistics.bounds import (
    Stratum,
    clopper_pearson,
    marked_interval,
    moved_bound,
    no_event_upper,
)
from rigledger.statistics.errors import OutOfRangeError, TooFewValuesError


def test_none_of_forty_moved_bounds_two_hundred_and_forty_cells_at_fifteen() -> None:
    bound = moved_bound([Stratum(cells=240, tested=40, moved=0)])
    assert (bound.at_most, bound.untested_at_most) == (15, 15)
    # Straight from the hypergeometric law: 15 is still believable at 5 %, 16 is not.
    assert stats.hypergeom.pmf(0, 240, 15, 40) > 0.05 >= stats.hypergeom.pmf(0, 240, 16, 40)


def test_imperfect_detection_widens_the_bound() -> None:
    bounds = [
        moved_bound([Stratum(240, 40, 0, detection)]).at_most for detection in (1.0, 0.8, 0.5, 0.1)
    ]
    assert bounds == sorted(bounds)
    assert bounds[0] < bounds[1] < bounds[2] < bounds[3]


def test_testing_everything_with_certainty_leaves_no_doubt() -> None:
    bound = moved_bound([Stratum(50, 50, 3)])
    assert (bound.at_most, bound.untested_at_most) == (3, 0)


def test_testing_nothing_bounds_nothing() -> None:
    assert moved_bound([Stratum(50, 0, 0)]).at_most == 50


def test_strata_sampled_alike_bound_nearly_as_one() -> None:
    split = moved_bound([Stratum(80, 13, 0), Stratum(80, 13, 0), Stratum(80, 14, 0)])
    whole = moved_bound([Stratum(240, 40, 0)])
    assert whole.at_most <= split.at_most <= whole.at_most + 2


def test_an_untested_stratum_may_have_moved_whole() -> None:
    bound = moved_bound([Stratum(100, 20, 0), Stratum(30, 0, 0)])
    assert bound.at_most == 30 + moved_bound([Stratum(100, 20, 0)]).at_most


STRATA = st.lists(
    st.integers(1, 9).flatmap(
        lambda cells: st.integers(0, cells).flatmap(
            lambda tested: st.builds(
                Stratum,
                st.just(cells),
                st.just(tested),
                st.integers(0, min(tested, 2)),
                st.sampled_from([1.0, 0.8, 0.4]),
            )
        )
    ),
    min_size=1,
    max_size=3,
)


def brute_force(strata: list[Stratum], alpha: float) -> int:
    """Largest total over every placement under which so few seen is believable."""
    most = sum(part.moved for part in strata)
    believable = 0
    for placed in product(*(range(part.cells + 1) for part in strata)):
        law = np.ones(1)
        for part, count in zip(strata, placed, strict=True):
            caught = np.arange(part.tested + 1)
            drawn = stats.hypergeom.pmf(caught, part.cells, count, part.tested)
            seen = stats.binom.pmf(caught[:, None], caught, part.detection)
            law = np.convolve(law, seen @ drawn)
        if law[: most + 1].sum() > alpha * (1 + 1e-9):  # equal but for rounding is not above
            believable = max(believable, sum(placed))
    return believable


@settings(max_examples=25, deadline=None)
@example([Stratum(4, 1, 0, 1.0), Stratum(5, 1, 0, 1.0)])
@given(STRATA)
def test_the_bound_is_that_of_trying_every_placement(strata: list[Stratum]) -> None:
    assert brute_force(strata, 0.05) == moved_bound(strata).at_most


@settings(max_examples=40, deadline=None)
@given(STRATA)
def test_the_order_of_strata_does_not_matter(strata: list[Stratum]) -> None:
    assert moved_bound(strata) == moved_bound(strata[::-1])


def test_the_bound_holds_as_often_as_it_says_whatever_the_number_moved() -> None:
    # Exact coverage from the hypergeometric law, not a simulation.
    bounds = [moved_bound([Stratum(60, 15, seen)]).at_most for seen in range(16)]
    for moved in range(61):
        chance = stats.hypergeom.pmf(np.arange(16), 60, moved, 15)
        assert chance[np.array(bounds) >= moved].sum() >= 0.95 - 1e-12


@settings(deadline=None)
@given(st.integers(1, 200).flatmap(lambda n: st.tuples(st.integers(0, n), st.just(n))))
def test_clopper_pearson_agrees_with_scipy_and_is_symmetric(case: tuple[int, int]) -> None:
    successes, trials = case
    lower, upper = clopper_pearson(successes, trials)
    reference = stats.binomtest(successes, trials).proportion_ci(0.95, method="exact")
    assert (lower, upper) == pytest.approx((reference.low, reference.high), abs=1e-9)
    mirrored = clopper_pearson(trials - successes, trials)
    assert (1 - upper, 1 - lower) == pytest.approx(mirrored, abs=1e-9)


def test_contradictory_counts_are_named_errors() -> None:
    with pytest.raises(OutOfRangeError):
        Stratum(10, 11, 0)
    with pytest.raises(OutOfRangeError):
        Stratum(10, 5, 6)
    with pytest.raises(OutOfRangeError):
        Stratum(10, 5, 0, 0.0)
    with pytest.raises(TooFewValuesError):
        moved_bound([])
    with pytest.raises(OutOfRangeError):
        marked_interval(5, 3, 10)
    with pytest.raises(TooFewValuesError):
        no_event_upper(0)
