from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.statistics.errors import NotFiniteError, OutOfRangeError, ShapeError
from rigledger.statistics.multiplicity import benjamini_hochberg, holm

P_VALUES = st.lists(st.floats(0.0, 1.0), min_size=1, max_size=30)

if TYPE_CHECKING:
    from collections.abc import Callable
    from random import Random


@pytest.mark.parametrize("adjust", [benjamini_hochberg, holm])
def test_an_empty_family_has_no_adjusted_values(adjust: Callable[..., Any]) -> None:
    assert adjust([]).tolist() == []


@pytest.mark.parametrize("adjust", [benjamini_hochberg, holm])
def test_a_single_p_value_stays_as_it_is(adjust: Callable[..., Any]) -> None:
    assert adjust([0.03]).tolist() == [0.03]


@pytest.mark.parametrize("adjust", [benjamini_hochberg, holm])
def test_a_missing_p_value_is_a_named_error(adjust: Callable[..., Any]) -> None:
    with pytest.raises(NotFiniteError) as caught:
        adjust([0.1, float("nan")])
    assert (caught.value.code, caught.value.index) == ("not_finite", 1)


@pytest.mark.parametrize("adjust", [benjamini_hochberg, holm])
@pytest.mark.parametrize(("p", "error"), [([1.5], OutOfRangeError), ([[0.1]], ShapeError)])
def test_other_bad_input_is_a_named_error(
    adjust: Callable[..., Any], p: list[float], error: type[Exception]
) -> None:
    with pytest.raises(error):
        adjust(p)


@settings(deadline=None)
@given(P_VALUES, st.randoms(use_true_random=False))
def test_the_order_of_p_values_does_not_matter(p: list[float], random: Random) -> None:
    shuffled = list(range(len(p)))
    random.shuffle(shuffled)
    for adjust in (benjamini_hochberg, holm):
        expected = adjust(p)[shuffled]
        np.testing.assert_array_equal(expected, adjust([p[i] for i in shuffled]))


@settings(deadline=None)
@given(P_VALUES)
def test_holm_is_never_below_benjamini_hochberg_nor_that_below_p(p: list[float]) -> None:
    q, adjusted = benjamini_hochberg(p), holm(p)
    assert np.all(np.asarray(p) <= q * (1 + 1e-12))
    assert np.all(q <= adjusted * (1 + 1e-12))
    assert np.all(adjusted <= 1)
