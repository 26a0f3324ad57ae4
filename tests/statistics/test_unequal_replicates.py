from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigledger.statistics.checks import NoVarianceError
from rigledger.statistics.errors import ShapeError
from rigledger.statistics.interlaboratory import precision
from rigledger.statistics.unequal_replicates import unequal_precision, within_consistency

# Steps of a thousandth: a spread that vanishes in the sum of the others is another test.
values = st.integers(min_value=1_000, max_value=100_000).map(lambda steps: steps / 1000)
balanced = st.integers(min_value=2, max_value=6).flatmap(
    lambda runs: st.lists(
        st.lists(values, min_size=runs, max_size=runs, unique=True), min_size=2, max_size=6
    )
)


@given(balanced)
def test_with_equal_numbers_of_runs_the_balanced_formulas_hold(rows: list[list[float]]) -> None:
    try:
        expected = precision(rows)
    except NoVarianceError:
        return
    found = unequal_precision(rows)
    assert found.mean == pytest.approx(expected.mean)
    assert found.repeatability_sd == pytest.approx(expected.repeatability_sd)
    assert found.between_sd == pytest.approx(expected.between_sd, abs=1e-4)
    k, _ = within_consistency(expected.cell_sds, [len(rows[0]) - 1.0] * len(rows))
    assert k == pytest.approx(expected.k)


def test_k_of_equal_spreads_is_one_whatever_the_numbers_of_runs() -> None:
    k, tail = within_consistency([2.0, 2.0, 2.0], [1.0, 4.0, 9.0])
    assert k == pytest.approx([1.0, 1.0, 1.0])
    assert ((tail > 0.2) & (tail < 0.6)).all()


def test_the_mean_counts_each_run_once() -> None:
    assert unequal_precision([[1.0], [4.0, 4.0, 4.0]]).mean == pytest.approx(3.25)


@pytest.mark.parametrize("rows", [[[1.0, 2.0]], [[1.0], [2.0]]])
def test_one_laboratory_or_single_runs_are_refused(rows: list[list[float]]) -> None:
    with pytest.raises(ShapeError):
        unequal_precision(rows)


def test_a_spread_with_nothing_to_hold_it_against_is_refused() -> None:
    with pytest.raises(NoVarianceError):
        within_consistency(np.array([1.0, 0.0]), [2.0, 2.0])
