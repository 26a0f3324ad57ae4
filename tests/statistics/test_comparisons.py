"""The entry point: what changes a result and what doesn't, blocks, sessions, odd inputs."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger.statistics.comparison_errors import (
    ArrayShapeError,
    CellWithoutRunsError,
    ComparisonInputError,
    IndexOutOfRangeError,
    SettingOutOfRangeError,
    ValueNotPositiveError,
)
from rigledger.statistics.comparisons import (
    Analysis,
    CellArrays,
    PairArrays,
    RunArrays,
    Settings,
    analyse,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

Row = tuple[float, int, int, int, int]
PLAIN = Settings()


def runs_of(rows: Sequence[Row], step: float = 0.0) -> RunArrays:
    """Runs from rows of (value, cell, session, round, pass)."""
    table = np.array(rows, dtype=float).reshape(-1, 5)
    whole = table[:, 1:].astype(np.int64)
    return RunArrays(table[:, 0], *whole.T, np.full(len(table), step))


def cells_of(count: int, **factors: object) -> CellArrays:
    return CellArrays(
        {name: np.asarray(labels) for name, labels in factors.items()}, np.zeros(count, bool)
    )


def neighbours(count: int) -> PairArrays:
    return PairArrays(np.arange(0, count, 2), np.arange(1, count, 2))


def study(seed: int, pairs: int = 12, runs: int = 3, sessions: int = 1) -> RunArrays:
    rng = np.random.default_rng(seed)
    sd = np.exp(rng.normal(np.log(0.01), 0.8, 2 * pairs))
    rows = [
        (100 * np.exp(sd[c] * rng.normal() + 0.02 * rng.normal() * (s > 0)), c, s, s, p)
        for c in range(2 * pairs)
        for s in range(sessions)
        for p in range(runs)
    ]
    return runs_of(rows)


def numbers(result: Analysis) -> dict[str, np.ndarray]:
    parts = (result.cells, result.comparisons)
    return {f.name: np.asarray(getattr(p, f.name)) for p in parts for f in fields(p)}


def nothing_is_nan(result: Analysis) -> None:
    for name, array in numbers(result).items():
        if array.dtype.kind == "f":
            assert np.isfinite(array).all(), name


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), sessions=st.integers(1, 2))
def test_order_of_rows_changes_no_bit(seed: int, sessions: int) -> None:
    runs = study(seed, sessions=sessions)
    order = np.random.default_rng(seed).permutation(len(runs.value))
    shuffled = RunArrays(*(getattr(runs, f.name)[order] for f in fields(runs)))
    cells, pairs = cells_of(24, workload=np.arange(24) // 6), neighbours(24)
    one, two = analyse(runs, cells, pairs, PLAIN), analyse(shuffled, cells, pairs, PLAIN)
    assert one.model == two.model
    for name, array in numbers(one).items():
        np.testing.assert_array_equal(array, numbers(two)[name], err_msg=name)


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), scale=st.floats(1e-3, 1e3))
def test_scale_of_the_values_changes_the_means_alone(seed: int, scale: float) -> None:
    runs = replace(study(seed), reported_step=np.full(72, 0.1))
    scaled = replace(runs, value=runs.value * scale, reported_step=runs.reported_step * scale)
    cells, pairs = cells_of(24, workload=np.arange(24) // 6), neighbours(24)
    one, two = analyse(runs, cells, pairs, PLAIN), analyse(scaled, cells, pairs, PLAIN)
    left, right = numbers(one), numbers(two)
    left["geometric_mean"] = left["geometric_mean"] * scale
    for name in set(left) - {"low95", "high95"}:
        if left[name].dtype.kind == "f":
            np.testing.assert_allclose(left[name], right[name], rtol=1e-5, atol=1e-7, err_msg=name)
    np.testing.assert_array_equal(left["direction"], right["direction"])


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 10**6), sessions=st.integers(1, 2))
def test_swapping_the_levels_mirrors_the_change(seed: int, sessions: int) -> None:
    runs = study(seed, sessions=sessions)
    cells, pairs = cells_of(24, workload=np.arange(24) // 6), neighbours(24)
    one = analyse(runs, cells, pairs, PLAIN).comparisons
    two = analyse(runs, cells, PairArrays(pairs.to_cell, pairs.from_cell), PLAIN).comparisons
    np.testing.assert_allclose(one.ln_change, -two.ln_change, rtol=1e-9, atol=1e-12)
    np.testing.assert_allclose(one.ln_se, two.ln_se, rtol=2e-3)
    np.testing.assert_allclose(one.p_direction, two.p_direction, rtol=2e-2)


def test_unbalanced_sessions_give_the_change_within_them() -> None:
    off = [(100.0, 0, 1, 1, p) for p in range(3)] + [(150.0, 0, 2, 2, 0)]
    on = [(110.0, 1, 1, 1, p) for p in range(3)] + [(165.0, 1, 2, 2, p) for p in range(3)]
    row = analyse(runs_of(off + on), cells_of(2), neighbours(2), PLAIN).comparisons
    assert row.change_pct[0] == pytest.approx(10.0, abs=1e-9)
    assert (row.design[0], row.sessions[0], row.blocks[0]) == ("within_sessions", 2, 2)
    assert (row.session_basis[0], bool(row.one_session[0])) == ("measured_rounds", False)


def test_levels_in_sessions_of_their_own_are_compared_round_by_round() -> None:
    rows = []
    for r, speed in ((1, 100.0), (2, 150.0)):
        rows += [(speed, 0, 2 * r, r, p) for p in range(3)]
        rows += [(1.1 * speed, 1, 2 * r + 1, r, p) for p in range(1 if r == 2 else 3)]
    row = analyse(runs_of(rows), cells_of(2), neighbours(2), PLAIN).comparisons
    assert row.change_pct[0] == pytest.approx(10.0, abs=1e-9)
    assert (row.design[0], row.sessions[0], row.rounds_used[0]) == ("between_sessions", 4, 2)


def test_a_session_with_both_levels_and_a_round_with_one_each_is_a_mixed_design() -> None:
    rows = [(100.0, 0, 1, 1, 0), (101.0, 1, 1, 1, 0), (100.0, 0, 2, 2, 0), (101.0, 1, 3, 2, 0)]
    row = analyse(runs_of(rows), cells_of(2), neighbours(2), PLAIN).comparisons
    assert (row.design[0], row.sessions[0], row.blocks[0]) == ("mixed", 3, 2)


def test_between_sessions_nothing_measured_or_declared_gives_an_interval_but_no_verdict() -> None:
    rows = [(100.0, 0, 1, 1, p) for p in range(3)] + [(200.0, 1, 2, 1, p) for p in range(3)]
    row = analyse(runs_of(rows), cells_of(2), neighbours(2), PLAIN).comparisons
    assert (row.session_basis[0], row.direction[0], row.size[0]) == (
        "assumed",
        "not_shown",
        "unsettled",
    )
    declared = replace(PLAIN, session_spread_pct=1.0)
    row = analyse(runs_of(rows), cells_of(2), neighbours(2), declared).comparisons
    assert (row.session_basis[0], row.direction[0], row.size[0]) == ("declared", "gain", "material")


def test_sentinels_measure_what_a_reboot_does() -> None:
    rng = np.random.default_rng(4)
    rows = []
    for session in range(8):
        speed = 100 * np.exp(0.03 * rng.normal())
        rows += [(speed * np.exp(0.002 * rng.normal()), 2, session, session // 2, -1)] * 2
        rows += [
            (100 * np.exp(0.002 * rng.normal()), session % 2, session, session // 2, -1)
            for _ in range(3)
        ]
    first = [r for r in rows if r[1] == 2 or r[2] < 2]
    cells = CellArrays({}, np.array([False, False, True]))
    row = analyse(runs_of(first), cells, neighbours(2), PLAIN)
    assert row.comparisons.session_basis[0] == "measured_sentinels"
    assert row.model.cell_sessions.degrees_of_freedom == 7
    assert row.comparisons.high95[0] - row.comparisons.low95[0] > 4.0


@pytest.mark.parametrize(
    ("better_when", "expected"), [("higher", "gain"), ("lower", "loss"), ("neither", "no_verdict")]
)
def test_direction_comes_from_the_metric(better_when: str, expected: str) -> None:
    rows = [(100.0 + p, 0, 1, 1, p) for p in range(3)] + [(200.0 + p, 1, 1, 1, p) for p in range(3)]
    chosen = Settings(better_when=better_when)  # type: ignore[arg-type]
    row = analyse(runs_of(rows), cells_of(2), neighbours(2), chosen).comparisons
    assert row.direction[0] == expected


ODD = {
    "one run a cell": [(100.0, 0, 1, 1, 0), (101.0, 1, 1, 1, 0)],
    "two runs a cell": [(100.0, c, 1, 1, p) for c in (0, 1) for p in range(2)],
    "no spread at all": [(60.0, c, 1, 1, p) for c in (0, 1) for p in range(3)],
    "one run against three": [(60.0, 0, 1, 1, 0)] + [(61.0 + p, 1, 1, 1, p) for p in range(3)],
    "the same pass twice": [(60.0 + k, c, 1, 1, 0) for c in (0, 1) for k in range(3)],
    "sessions and rounds that never meet": [(60.0, 0, 1, 1, 0), (61.0, 1, 2, 2, 0)],
    "a spread of a thousand": [(10.0 ** (3 * p), c, 1, 1, p) for c in (0, 1) for p in range(3)],
}


@pytest.mark.parametrize("step", [0.0, 1.0])
@pytest.mark.parametrize("name", list(ODD))
def test_odd_inputs_give_finite_answers(name: str, step: float) -> None:
    result = analyse(runs_of(ODD[name], step), cells_of(2), neighbours(2), PLAIN)
    nothing_is_nan(result)
    assert result.model.basis == "declared"
    row = result.comparisons
    assert np.all(row.low95 < row.change_pct)
    assert np.all(row.change_pct < row.high95)


def test_equal_whole_numbers_are_known_no_better_than_their_rounding() -> None:
    rows = [(60.0, c, 1, 1, p) for c in range(24) for p in range(3)]
    result = analyse(runs_of(rows, 1.0), cells_of(24), neighbours(24), PLAIN)
    uniform_sd_of_difference = 100 * np.sqrt(2 / 12) / 60
    assert np.all(result.comparisons.high95 > 1.9 * uniform_sd_of_difference)


def test_no_pairs_and_a_cell_without_runs_are_legal() -> None:
    empty = PairArrays(np.zeros(0, int), np.zeros(0, int))
    result = analyse(runs_of([(60.0, 0, 1, 1, 0)]), cells_of(2), empty, PLAIN)
    assert [True, False] == list(result.cells.has_mean)
    assert len(result.comparisons.change_pct) == 0
    nothing_is_nan(result)


@pytest.mark.parametrize("value", [0.0, -1.0, float("nan"), float("inf")])
def test_values_without_a_logarithm_are_refused_with_their_place(value: float) -> None:
    rows = [(60.0, 0, 1, 1, 0), (value, 1, 1, 1, 0)]
    with pytest.raises(ValueNotPositiveError) as caught:
        analyse(runs_of(rows), cells_of(2), neighbours(2), PLAIN)
    assert (caught.value.array, caught.value.index) == ("runs.value", 1)


def test_wrong_arrays_and_settings_are_named() -> None:
    runs, cells, pairs = runs_of([(60.0, 0, 1, 1, 0)]), cells_of(2), neighbours(2)
    cases: list[tuple[type[ComparisonInputError], RunArrays, PairArrays, Settings]] = [
        (CellWithoutRunsError, runs, pairs, PLAIN),
        (IndexOutOfRangeError, runs, PairArrays(np.array([0]), np.array([7])), PLAIN),
        (IndexOutOfRangeError, replace(runs, cell=np.array([5])), pairs, PLAIN),
        (ArrayShapeError, replace(runs, cell=np.array([0, 1])), pairs, PLAIN),
        (SettingOutOfRangeError, runs, pairs, replace(PLAIN, material_change_pct=0.0)),
        (SettingOutOfRangeError, runs, pairs, replace(PLAIN, rounds_declared=11)),
    ]
    for error, bad_runs, bad_pairs, bad_settings in cases:
        with pytest.raises(error):
            analyse(bad_runs, cells, bad_pairs, bad_settings)


def test_two_declared_rounds_widen_the_interval_that_decides() -> None:
    runs, cells, pairs = study(1), cells_of(24), neighbours(24)
    one = analyse(runs, cells, pairs, PLAIN).comparisons
    two = analyse(runs, cells, pairs, replace(PLAIN, rounds_declared=2)).comparisons
    np.testing.assert_array_equal(one.low95, two.low95)
    assert np.all(two.high_decision > one.high_decision)
    np.testing.assert_allclose(two.decision_level_pct, 97.06, atol=0.01)
    assert np.all(two.p_direction >= one.p_direction)
