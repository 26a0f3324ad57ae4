from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from rigledger.statistics.errors import NotFiniteError, OutOfRangeError, ShapeError
from rigledger.statistics.factor_effects import Effect, FactorEffects, factor_effects

SD = 0.005
QUIET = np.full((1, 4, 2), SD**2)
MANY = np.full((1, 4, 2), np.inf)
SEEDS = st.integers(0, 10_000)


def one(changes: np.ndarray, df: float = 8.0, sd: float = SD) -> FactorEffects:
    grid = np.asarray(changes, dtype=float)[None]
    return factor_effects(grid, np.full(grid.shape, sd**2), np.full(grid.shape, df))[0]


def effects(result: FactorEffects) -> dict[str, Effect]:
    names = ("platform", "card", "platform_x_card", "rig")
    return {name: effect for name in names if (effect := getattr(result, name)) is not None}


def test_the_same_change_everywhere_depends_on_nothing() -> None:
    result = one(np.full((4, 2), 0.08))
    assert result.scope == "all_rigs"
    assert [effect.extent_pct for effect in effects(result).values()] == pytest.approx([0.0] * 4)
    assert [effect.p for effect in effects(result).values()] == pytest.approx([1.0] * 4)


def test_a_change_on_one_platform_is_that_platforms() -> None:
    changes = np.zeros((4, 2))
    changes[2] = np.log(1.10)
    result = one(changes)
    assert result.scope == "platform"
    assert result.platform is not None
    assert result.platform.extent_pct == pytest.approx(10.0)
    assert result.platform.extent_low_pct < 10.0 < result.platform.extent_high_pct
    assert result.platform.apart[2]
    assert result.card is not None
    assert not result.card.flag


def test_a_change_on_one_rig_is_found_on_that_rig_alone() -> None:
    changes = np.zeros((4, 2))
    changes[1, 0] = np.log(1.10)
    result = one(changes)
    assert result.scope == "rig"
    assert result.platform_x_card is not None
    assert result.platform_x_card.flag
    assert result.rig is not None
    expected = np.zeros((4, 2), dtype=bool)
    expected[1, 0] = True
    assert result.rig.apart.tolist() == expected.tolist()


def test_platform_and_card_can_both_matter_without_crossing() -> None:
    changes = np.log(1.10) * (np.arange(4)[:, None] == 0) + np.log(1.08) * np.arange(2)[None, :]
    assert one(changes).scope == "platform_and_card"


def test_rises_here_and_falls_there_is_a_crossing_of_signs() -> None:
    changes = np.array([[0.10, 0.10], [-0.08, 0.0]])
    crossing = one(changes).crossing
    assert crossing is not None
    assert crossing.flag
    assert crossing.rises.tolist() == [[True, True], [False, False]]
    assert crossing.falls.tolist() == [[False, False], [True, False]]


def test_rises_of_different_size_are_no_crossing_of_signs() -> None:
    crossing = one(np.array([[0.10, 0.30], [0.05, 0.10]])).crossing
    assert crossing is not None
    assert not crossing.flag
    assert not crossing.falls.any()


def test_a_sure_effect_within_the_material_change_is_not_flagged() -> None:
    changes = np.zeros((4, 2))
    changes[2] = 0.02
    result = one(changes, sd=0.001)
    assert result.platform is not None
    assert result.platform.p < 0.001
    assert not result.platform.flag


def test_with_variances_known_the_tests_are_those_of_a_two_way_layout() -> None:
    rng = np.random.default_rng(1)
    changes = rng.normal(0, SD, (1, 4, 2))
    result = factor_effects(changes, QUIET, MANY)[0]
    y = changes[0]
    platforms, cards, mean = y.mean(axis=1), y.mean(axis=0), y.mean()
    residual = y - platforms[:, None] - cards[None, :] + mean
    expected = {
        "platform": (2 * ((platforms - mean) ** 2).sum(), 3),
        "card": (4 * ((cards - mean) ** 2).sum(), 1),
        "platform_x_card": ((residual**2).sum(), 3),
        "rig": (((y - mean) ** 2).sum(), 7),
    }
    for name, effect in effects(result).items():
        squares, rank = expected[name]
        assert effect.rank == rank
        assert effect.statistic == pytest.approx(squares / SD**2)
        assert effect.p == pytest.approx(stats.chi2.sf(squares / SD**2, rank), abs=0.01)
        assert effect.plain_p == pytest.approx(effect.p, abs=0.01)


def test_few_degrees_of_freedom_claim_less() -> None:
    changes = np.zeros((4, 2))
    changes[1, 0] = 4 * SD
    known, unsure = one(changes, df=np.inf), one(changes, df=3.0)
    assert known.rig is not None
    assert unsure.rig is not None
    assert known.rig.p < unsure.rig.p
    assert known.rig.plain_p == pytest.approx(unsure.rig.plain_p)


def test_a_missing_rig_makes_its_workload_not_estimable_and_no_other() -> None:
    changes = np.zeros((2, 2, 2))
    changes[0, 1, 1] = np.nan
    found = factor_effects(changes, np.full(changes.shape, 1e-4), np.full(changes.shape, 4.0))
    assert (found[0].scope, found[0].reason) == (
        "not_estimable",
        "incomplete cross: 1 rig(s) not measured",
    )
    assert effects(found[0]) == {}
    assert found[1].scope == "all_rigs"


@pytest.mark.parametrize(
    ("shape", "names"),
    [((1, 3), ["card", "rig"]), ((3, 1), ["platform", "rig"]), ((1, 1), [])],
)
def test_a_single_platform_or_card_leaves_what_can_be_said(
    shape: tuple[int, int], names: list[str]
) -> None:
    assert names == list(effects(one(np.zeros(shape))))


def test_no_workload_gives_no_result() -> None:
    empty = np.zeros((0, 2, 2))
    assert factor_effects(empty, empty, empty) == []


def test_nothing_published_is_nan() -> None:
    rng = np.random.default_rng(2)
    for shape in ((2, 2), (4, 2), (1, 3)):
        for effect in effects(one(rng.normal(0, SD, shape), df=1.5)).values():
            numbers = [effect.extent_pct, effect.extent_low_pct, effect.extent_high_pct, effect.p]
            assert np.isfinite([*numbers, *effect.deviations_pct.reshape(-1)]).all()


def test_a_hopelessly_noisy_rig_leaves_finite_ends() -> None:
    variances = np.full((1, 2, 2), 1e-4)
    variances[0, 0, 0] = 1e8
    result = factor_effects(np.zeros((1, 2, 2)), variances, np.full((1, 2, 2), 3.0))[0]
    assert all(np.isfinite(effect.extent_high_pct) for effect in effects(result).values())


@settings(deadline=None, max_examples=25)
@given(SEEDS)
def test_swapping_the_levels_changes_signs_only(seed: int) -> None:
    rng = np.random.default_rng(seed)
    changes, variances = rng.normal(0, 0.02, (1, 3, 2)), rng.uniform(1e-5, 1e-3, (1, 3, 2))
    df = rng.uniform(2, 20, (1, 3, 2))
    forth, back = (factor_effects(sign * changes, variances, df)[0] for sign in (1, -1))
    for name, effect in effects(forth).items():
        other = effects(back)[name]
        assert effect.p == pytest.approx(other.p, rel=1e-9)
        assert effect.apart.tolist() == other.apart.tolist()
        factors = (1 + effect.deviations_pct / 100) * (1 + other.deviations_pct / 100)
        np.testing.assert_allclose(factors, 1)


@settings(deadline=None, max_examples=15)
@given(SEEDS)
def test_the_order_of_platforms_and_cards_moves_p_no_more_than_simulation_does(seed: int) -> None:
    rng = np.random.default_rng(seed)
    grids = [rng.normal(0, 0.02, (1, 3, 2)), rng.uniform(1e-4, 1e-3, (1, 3, 2))]
    df = np.full((1, 3, 2), 6.0)
    there = factor_effects(*grids, df)[0]
    moved = factor_effects(*(grid[:, ::-1, ::-1] for grid in grids), df)[0]
    for name, effect in effects(there).items():
        other = effects(moved)[name]
        assert effect.statistic == pytest.approx(other.statistic, rel=1e-9)
        assert effect.extent_pct == pytest.approx(other.extent_pct, rel=1e-9, abs=1e-9)
        assert effect.p == pytest.approx(other.p, abs=0.03)


def test_a_result_does_not_depend_on_the_other_workloads() -> None:
    rng = np.random.default_rng(3)
    changes, df = rng.normal(0, 0.02, (70, 3, 2)), np.full((70, 3, 2), 4.0)
    variances = rng.uniform(1e-4, 1e-3, (70, 3, 2))
    together = factor_effects(changes, variances, df)[65]
    alone = factor_effects(changes[65:66], variances[65:66], df[65:66])[0]
    assert [e.p for e in effects(alone).values()] == [e.p for e in effects(together).values()]


def test_bad_input_is_a_named_error() -> None:
    ok = np.ones((1, 2, 2))
    with pytest.raises(ShapeError):
        factor_effects(ok[0], ok[0], ok[0])
    with pytest.raises(ShapeError):
        factor_effects(ok, ok[:, :1], ok)
    with pytest.raises(OutOfRangeError):
        factor_effects(ok, 0 * ok, ok)
    with pytest.raises(OutOfRangeError):
        factor_effects(ok, ok, ok, material_change_pct=-1)
    with pytest.raises(NotFiniteError):
        factor_effects(ok * np.inf, ok, ok)
