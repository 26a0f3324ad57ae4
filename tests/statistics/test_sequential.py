"""Group-sequential limits against the published constants.

Pocock (1977), O'Brien and Fleming (1979); constants of Jennison and Turnbull (2000), Group
Sequential Methods, tables 2.1 and 2.3 (Pocock's also found printed in public software; those of
O'Brien and Fleming from memory).
"""

from __future__ import annotations

import numpy as np
import pytest

from rigledger.statistics.comparison_errors import SettingOutOfRangeError
from rigledger.statistics.sequential import (
    adjust_p,
    crossing_probability,
    nominal_level,
    sequential_limits,
)

POCOCK = {
    0.05: {2: "2.178", 3: "2.289", 4: "2.361", 5: "2.413", 8: "2.512", 10: "2.555"},
    0.10: {2: "1.875", 3: "1.992", 4: "2.067", 5: "2.122"},
    0.01: {2: "2.772", 3: "2.873", 4: "2.939", 5: "2.986"},
}
OBRIEN_FLEMING = {2: "1.977", 3: "2.004", 4: "2.024", 5: "2.040"}


@pytest.mark.parametrize(
    ("alpha", "looks", "printed"), [(a, k, c) for a, row in POCOCK.items() for k, c in row.items()]
)
def test_constant_limits_are_pococks(alpha: float, looks: int, printed: str) -> None:
    limits = sequential_limits("constant", looks, alpha)
    assert [printed] * looks == [f"{limit:.3f}" for limit in limits]


@pytest.mark.parametrize(("looks", "printed"), list(OBRIEN_FLEMING.items()))
def test_decreasing_limits_are_obrien_and_flemings(looks: int, printed: str) -> None:
    limits = sequential_limits("decreasing", looks, 0.05)
    assert printed == f"{limits[-1]:.3f}"
    np.testing.assert_allclose(limits * np.sqrt(np.arange(1, looks + 1)), limits[0], rtol=1e-12)


def test_crossing_probability_agrees_with_simulation() -> None:
    rng = np.random.default_rng(3)
    z = np.cumsum(rng.normal(size=(200_000, 3)), axis=1) / np.sqrt([1, 2, 3])
    limits = np.array([2.5, 2.2, 2.0])
    for sides, hits in ((1, z > limits), (2, np.abs(z) > limits)):
        share = hits.any(axis=1).mean()
        assert crossing_probability(limits, sides) == pytest.approx(share, abs=0.0015)


@pytest.mark.parametrize("kind", ["constant", "decreasing"])
def test_adjusted_p_crosses_its_level_where_the_nominal_p_does(kind: str) -> None:
    used = np.array([1, 2, 3])
    for sides in (1, 2):
        nominal = nominal_level(kind, 3, used, 0.05, sides)  # type: ignore[arg-type]
        adjusted = adjust_p(kind, 3, used, nominal, sides)  # type: ignore[arg-type]
        np.testing.assert_allclose(adjusted, 0.05, rtol=5e-3)


def test_adjusted_p_rises_with_p_and_never_falls_below_it() -> None:
    p = np.concatenate(([1e-300], np.geomspace(1e-20, 1.0, 200)))
    adjusted = adjust_p("constant", 2, np.full(len(p), 2), p)
    assert np.all(np.diff(adjusted) >= 0)
    assert np.all((adjusted >= p) & (adjusted <= 1.0))


def test_one_declared_round_needs_no_adjustment() -> None:
    p = np.array([0.01, 0.5])
    assert adjust_p("constant", 1, np.ones(2, int), p) is p
    assert sequential_limits("constant", 1, 0.05)[0] == pytest.approx(1.959964, abs=1e-6)


@pytest.mark.parametrize(("looks", "alpha"), [(0, 0.05), (11, 0.05), (2, 0.0), (2, 1.0)])
def test_settings_out_of_range_are_refused(looks: int, alpha: float) -> None:
    with pytest.raises(SettingOutOfRangeError):
        sequential_limits("constant", looks, alpha)
