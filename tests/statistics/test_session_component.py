"""The session-to-session component: what is measured, declared or assumed."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from rigledger.statistics.session_component import (
    Units,
    describe,
    fit_law,
    predict,
    restricted_log_likelihood,
)


def units_of(value: np.ndarray, run_sd: float, together: np.ndarray | None = None) -> Units:
    count = len(value)
    return Units(
        value=value,
        used=np.ones(value.shape, dtype=bool),
        variance=np.full(value.shape, run_sd**2 / 3),
        ln_sd=np.full(count, 0.2),
        reference=np.full(count, run_sd**2),
        together=np.arange(count) if together is None else together,
    )


def test_restricted_likelihood_is_that_of_the_contrasts() -> None:
    value, variance = np.array([1.0, 2.0, 4.0]), np.array([1.0, 2.0, 3.0])
    contrast = np.array([[1.0, -1.0, 0.0], [0.0, 1.0, -1.0]])
    law = stats.multivariate_normal(np.zeros(2), contrast @ np.diag(variance) @ contrast.T)
    exact = float(law.logpdf(contrast @ value)) + np.log(2 * np.pi)
    found = restricted_log_likelihood(value, variance, np.ones(3, dtype=bool))
    assert float(found) == pytest.approx(exact)


def test_a_single_value_says_nothing_about_variances() -> None:
    used = np.array([True, False])
    assert float(restricted_log_likelihood(np.ones(2), np.ones(2), used)) == 0.0


@pytest.mark.parametrize("ratio", [0.5, 1.0, 3.0])
def test_many_units_recover_the_component(ratio: float) -> None:
    rng = np.random.default_rng(1)
    run_sd = 0.01
    centre = ratio * run_sd * rng.normal(size=(400, 2))
    value = centre + run_sd / np.sqrt(3) * rng.normal(size=(400, 2))
    law = fit_law(units_of(value, run_sd), np.zeros(400, dtype=bool), None)
    mean, sd = predict(law, np.array([run_sd**2]), [])
    assert law.basis == "measured_rounds"
    assert np.exp(mean[0]) == pytest.approx(ratio * run_sd, rel=0.15)
    assert sd[0] < 0.45


def test_units_that_shift_together_count_as_one_event() -> None:
    rng = np.random.default_rng(2)
    shift = 0.01 * rng.normal(size=(2, 1, 2))
    value = (shift + 0.0001 * rng.normal(size=(2, 30, 2))).reshape(60, 2)
    sets = np.repeat([0, 1], 30)
    apart = fit_law(units_of(value, 0.001), np.zeros(60, dtype=bool), None)
    joint = fit_law(units_of(value, 0.001, sets), np.zeros(60, dtype=bool), None)
    spread = [predict(law, np.array([1e-6]), [])[1][0] for law in (apart, joint)]
    assert spread[1] > spread[0]
    assert joint.own.min() > 0.2 * apart.own.min()


@pytest.mark.parametrize(
    ("share", "low", "high"), [(0.0, 0.0, 0.2), (0.5, 0.3, 0.7), (1.0, 0.85, 1.0)]
)
def test_what_the_cells_of_a_session_have_in_common_is_recovered(
    share: float, low: float, high: float
) -> None:
    rng = np.random.default_rng(4)
    common, own = rng.normal(size=(40, 1, 2)), rng.normal(size=(40, 10, 2))
    shift = 0.01 * (np.sqrt(share) * common + np.sqrt(1 - share) * own)
    value = (shift + 0.01 / np.sqrt(3) * rng.normal(size=(40, 10, 2))).reshape(400, 2)
    sets = np.repeat(np.arange(40), 10)
    law = fit_law(units_of(value, 0.01, sets), np.zeros(400, dtype=bool), None)
    assert low <= law.common <= high


def test_where_nothing_tells_a_boot_moves_all_cells_at_once() -> None:
    value = 0.01 * np.random.default_rng(5).normal(size=(6, 2))
    none = np.zeros(6, dtype=bool)
    assert fit_law(units_of(value, 0.01), none, None).common == 1.0
    assert fit_law(units_of(value[:, :1], 0.01), none, 0.5).common == 1.0


def test_one_repeat_only_gives_way_to_a_declared_component() -> None:
    one = units_of(np.array([[0.0, 0.02]]), 0.01)
    no = np.zeros(1, dtype=bool)
    measured, declared = fit_law(one, no, None), fit_law(one, no, 1.5)
    assert (measured.basis, measured.df) == ("measured_rounds", 1)
    assert declared.basis == "declared"
    mean, sd = predict(declared, np.array([1e-4]), [])
    assert (np.exp(mean[0]), sd[0]) == (pytest.approx(0.015), 0.0)


def test_sentinels_alone_are_named_as_the_source() -> None:
    value = np.random.default_rng(3).normal(0, 0.01, (4, 2))
    law = fit_law(units_of(value, 0.01), np.ones(4, dtype=bool), 2.0)
    assert describe(law).basis == "measured_sentinels"
    assert describe(law).degrees_of_freedom == 4


def test_nothing_measured_or_declared_is_said_to_be_assumed() -> None:
    single = units_of(np.zeros((3, 1)), 0.01)
    law = describe(fit_law(single, np.zeros(3, dtype=bool), None))
    assert (law.basis, law.degrees_of_freedom, law.ln_sd) == ("assumed", 0, 1.0)
    assert law.absolute_pct == pytest.approx(1.0)


def test_a_unit_left_out_no_longer_counts() -> None:
    value = np.array([[0.0, 0.2], [0.0, 0.001], [0.0, 0.001], [0.0, 0.001]])
    law = fit_law(units_of(value, 0.001), np.zeros(4, dtype=bool), None)
    reference = np.array([1e-6])
    with_it, _ = predict(law, reference, [])
    without, _ = predict(law, reference, [np.array([0])])
    assert without[0] < with_it[0] - 0.5
