"""Shifts between stacks: what enters their intervals."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from rigledger.statistics.inputs import CellArrays, PairArrays, RunArrays, Settings
from rigledger.statistics.mixture import ScaleMixture
from rigledger.statistics.stack_shift import AskedShifts, spreads_together, stack_shifts, widen

SETTINGS = Settings(session_spread_pct=0.5, material_change_pct=3.0)
NONE = PairArrays(np.array([], dtype=np.int64), np.array([], dtype=np.int64))


def study(values: list[list[float]], sessions: list[int]) -> tuple[RunArrays, CellArrays]:
    """One list of values per cell, each cell measured in one session."""
    cell = np.repeat(np.arange(len(values)), [len(held) for held in values])
    runs = RunArrays(
        value=np.concatenate([np.array(held) for held in values]),
        cell=cell,
        session=np.array(sessions)[cell],
        round=np.ones(len(cell), dtype=np.int64),
        pass_index=np.full(len(cell), -1),
        reported_step=np.zeros(len(cell)),
    )
    return runs, CellArrays({}, np.zeros(len(values), dtype=bool))


def quiet(centre: float) -> list[float]:
    return [centre * (1 + step) for step in (-1e-5, 0.0, 1e-5, 2e-5, -2e-5)]


def pairs(*rows: tuple[int, int]) -> PairArrays:
    first, second = np.array(rows, dtype=np.int64).T
    return PairArrays(first, second)


def test_a_quiet_cells_shift_is_as_uncertain_as_two_boots_make_it() -> None:
    """Normal theory: 1.96 sqrt(2) times the declared session-to-session spread."""
    runs, cells = study([quiet(100.0), quiet(102.0)], [0, 1])
    found = stack_shifts(runs, cells, AskedShifts(pairs((0, 1)), NONE, NONE), SETTINGS).cells
    half = np.log1p(found.high95 / 100) - np.log1p(found.shift_pct / 100)
    assert pytest.approx([2.0], abs=0.002) == list(found.shift_pct)
    assert pytest.approx([stats.norm.ppf(0.975) * np.sqrt(2) * 0.005], rel=0.02) == list(half)
    assert ["gain"] == list(found.direction)
    assert ["declared"] == list(found.session_basis)


def test_an_effect_measured_in_one_session_a_stack_carries_the_session_component_twice() -> None:
    runs, cells = study([quiet(100.0), quiet(110.0), quiet(100.0), quiet(104.0)], [0, 0, 1, 1])
    asked = AskedShifts(NONE, pairs((0, 1), (2, 3)), pairs((0, 1)))
    found = stack_shifts(runs, cells, asked, SETTINGS).effects
    half = np.log1p(found.high95 / 100) - np.log1p(found.shift_pct / 100)
    assert pytest.approx([100 * (104 / 110 - 1)], abs=0.002) == list(found.shift_pct)
    assert pytest.approx([stats.norm.ppf(0.975) * np.sqrt(2) * 0.005], rel=0.02) == list(half)
    assert [("loss", "material")] == list(zip(found.direction, found.size, strict=True))


def test_nothing_is_said_where_nobody_knows_what_a_boot_does() -> None:
    runs, cells = study([quiet(100.0), quiet(150.0)], [0, 1])
    unknown = replace(SETTINGS, session_spread_pct=None)
    found = stack_shifts(runs, cells, AskedShifts(pairs((0, 1)), NONE, NONE), unknown).cells
    assert ["assumed"] == list(found.session_basis)
    assert ["not_shown"] == list(found.direction)
    assert ["unsettled"] == list(found.size)


def test_rounds_that_may_be_added_dont_widen_a_shift() -> None:
    runs, cells = study([quiet(100.0), quiet(102.0)], [0, 1])
    asked = AskedShifts(pairs((0, 1)), NONE, NONE)
    one, three = (
        stack_shifts(runs, cells, asked, replace(SETTINGS, rounds_declared=rounds)).cells
        for rounds in (1, 3)
    )
    assert list(one.p) == list(three.p)


LN_SDS = st.lists(st.floats(-7, -1), min_size=4, max_size=4).map(sorted)
WEIGHTS = st.lists(st.floats(0.05, 1), min_size=4, max_size=4)


def law(ln_sds: list[float], weights: list[float]) -> ScaleMixture:
    held = np.array([weights])
    return ScaleMixture(np.exp(np.array([ln_sds])), held / held.sum())


@settings(max_examples=50)
@given(LN_SDS, WEIGHTS, LN_SDS, WEIGHTS)
def test_spreads_that_are_large_together_keep_the_sum_of_variances_and_have_longer_tails(
    one_sds: list[float], one_weights: list[float], two_sds: list[float], two_weights: list[float]
) -> None:
    one, two = law(one_sds, one_weights), law(two_sds, two_weights)
    joint = spreads_together(one, two)
    total = np.hypot(one.standard_deviation(), two.standard_deviation())
    assert pytest.approx(total, rel=1e-9) == joint.standard_deviation()
    outer = (one.sd[:, :, None] ** 2 + two.sd[:, None, :] ** 2) ** 0.5
    weight = one.weight[:, :, None] * two.weight[:, None, :]
    free = ScaleMixture(outer.reshape(1, -1), weight.reshape(1, -1))
    fourth = [float((held.weight * held.sd**4).sum()) for held in (joint, free)]
    assert fourth[0] >= fourth[1] * (1 - 1e-9)


def test_widening_adds_the_variances() -> None:
    widened = widen(law([-5.0] * 4, [1.0] * 4), np.array([-4.0]), np.array([0.0]))
    expected = np.sqrt(np.exp(-10.0) + np.exp(-8.0))
    assert pytest.approx([expected], rel=1e-6) == widened.standard_deviation()
