"""Scales go both ways, and their ticks are round."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from rigledger.charts.scale import Scale, change_scale, round_step


def test_ticks_are_round_and_on_the_scale() -> None:
    assert Scale(-12, 6, 0, 100).ticks(5) == [-10, -5, 0, 5]


def test_ticks_of_a_log_scale_are_ones_and_threes() -> None:
    assert Scale(0.2, 40, 0, 100, log=True).ticks(10) == [0.3, 1, 3, 10, 30]


def test_a_value_beyond_the_scale_stops_at_its_end() -> None:
    scale = Scale(0, 10, 100, 200)
    assert (scale.at(-5), scale.at(5), scale.at(15)) == (100, 150, 200)


@given(st.floats(1e-6, 1e6))
def test_a_round_step_is_one_two_or_five_and_not_below(rough: float) -> None:
    step = round_step(rough)
    assert rough * (1 - 1e-9) <= step <= 5 * rough
    assert f"{step:e}"[0] in "125"


@given(st.lists(st.floats(-90, 400), min_size=1), st.lists(st.floats(-99, 900)))
def test_every_change_and_the_band_lie_on_a_scale_of_changes(
    changes: list[float], ends: list[float]
) -> None:
    scale = change_scale(changes, ends, 3, 0, 1000)
    assert all(scale.holds(value) for value in [*changes, -3, 0, 3])
