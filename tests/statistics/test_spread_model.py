"""The hierarchical spread model against brute-force quadrature, and its behaviour at the edges."""

from __future__ import annotations

import numpy as np
import pytest

from rigledger.statistics.effects import Hyperparameters, make_design
from rigledger.statistics.inputs import SpreadPrior
from rigledger.statistics.spread import fit_spread
from rigledger.statistics.spread_data import SpreadData
from rigledger.statistics.spread_ep import propagate

MEAN, BETWEEN, WITHIN = float(np.log(0.01)), 0.7, 0.4


def data_of(squares: np.ndarray, df: float = 2.0, floor: float = 1e-12) -> SpreadData:
    n = len(squares)
    one = np.ones(n, dtype=np.int64)
    return SpreadData(
        one * int(df + 1), one, np.full(n, df), squares, np.full(n, floor), np.zeros(n)
    )


def simulated(groups: int, cells: int, seed: int = 1) -> tuple[SpreadData, np.ndarray]:
    rng = np.random.default_rng(seed)
    group = np.repeat(np.arange(groups), cells)
    x = MEAN + rng.normal(0, BETWEEN, groups)[group] + rng.normal(0, WITHIN, len(group))
    return data_of(np.exp(2 * x) * rng.chisquare(2, len(group))), group


def brute_force(squares: np.ndarray) -> tuple[float, np.ndarray, np.ndarray]:
    """Log evidence, means and variances of ln sigma of one group's cells, on a fine grid."""
    eta = np.linspace(MEAN - 6 * BETWEEN, MEAN + 6 * BETWEEN, 401)
    x = np.linspace(MEAN - 9.0, MEAN + 9.0, 1801)
    step = (eta[1] - eta[0], x[1] - x[0])
    conditional = np.exp(-0.5 * ((x - eta[:, None]) / WITHIN) ** 2) / (WITHIN * np.sqrt(2 * np.pi))
    curve = np.exp(-2.0 * x - 0.5 * squares[:, None] * np.exp(-2.0 * x))
    scale = curve.max(axis=1)
    inner = np.einsum("ex,cx->ce", conditional, curve / scale[:, None]) * step[1]
    prior = np.exp(-0.5 * ((eta - MEAN) / BETWEEN) ** 2) / (BETWEEN * np.sqrt(2 * np.pi))
    joint = prior * inner.prod(axis=0)
    evidence = float(np.log(joint.sum() * step[0]) + np.log(scale).sum())
    means, variances = [], []
    for c in range(len(squares)):
        rest = joint / inner[c]
        weight = np.einsum("e,ex->x", rest, conditional) * curve[c]
        weight /= weight.sum()
        means.append(float((weight * x).sum()))
        variances.append(float((weight * (x - means[-1]) ** 2).sum()))
    return evidence, np.array(means), np.array(variances)


def test_posterior_of_a_group_agrees_with_brute_force_quadrature() -> None:
    data, _ = simulated(1, 6)
    hyper = Hyperparameters(np.array([BETWEEN]), WITHIN, MEAN, 1e-6)
    design = make_design({"workload": np.array([0, 0, 0, 0, 0, 0, 1])}, 7)
    squares = np.append(data.squares, 1.0)
    with_spare = data_of(squares)
    df = with_spare.df.copy()
    df[6], squares[6] = 0.0, 0.0
    spared = SpreadData(
        with_spare.runs, with_spare.sessions, df, squares, with_spare.floor, with_spare.mean
    )
    post = propagate(spared, design, hyper)
    evidence, means, variances = brute_force(data.squares)
    assert post.log_evidence == pytest.approx(evidence, abs=2e-3)
    np.testing.assert_allclose(post.own_mean[:6], means, atol=2e-3)
    np.testing.assert_allclose(post.own_variance[:6], variances, rtol=1e-2)


def test_gradient_is_the_derivative_of_the_evidence() -> None:
    data, group = simulated(8, 5)
    factors = {"workload": group, "level": np.arange(40) % 2}
    design = make_design(factors, 40)
    at = np.log([0.3, 0.8, 0.5])

    def evidence(ln_sd: np.ndarray) -> float:
        sd = np.exp(ln_sd)
        return propagate(data, design, Hyperparameters(sd[:2], sd[2], MEAN, 10.0)).log_evidence

    sd = np.exp(at)
    exact = propagate(data, design, Hyperparameters(sd[:2], sd[2], MEAN, 10.0)).gradient
    numeric = [(evidence(at + e) - evidence(at - e)) / 2e-4 for e in 1e-4 * np.eye(3)]
    np.testing.assert_allclose(exact, numeric, atol=2e-3)


def test_fit_recovers_how_much_workloads_and_cells_differ() -> None:
    data, group = simulated(200, 6)
    fit = fit_spread(data, {"workload": group}, SpreadPrior())
    assert fit.basis == "fitted"
    assert fit.hyper.factor_sd[0] == pytest.approx(BETWEEN, abs=0.1)
    assert fit.hyper.residual_sd == pytest.approx(WITHIN, abs=0.05)


def test_few_cells_fall_back_on_the_declared_prior() -> None:
    data, group = simulated(1, 5)
    prior = SpreadPrior(median_pct=2.0, ln_sd=0.5)
    fit = fit_spread(data, {"workload": group}, prior)
    assert fit.basis == "declared"
    assert (fit.hyper.residual_sd, fit.hyper.mean) == (0.5, float(np.log(0.02)))
    np.testing.assert_allclose(fit.posterior.cavity_mean, np.log(0.02), atol=1e-4)


def test_factors_that_explain_nothing_drop_out() -> None:
    data, group = simulated(4, 5)
    factors = {"workload": group, "rig": np.zeros(20, int), "cell": np.arange(20)}
    assert make_design(factors, 20).names == ("workload",)
    assert fit_spread(data, factors, SpreadPrior()).design.names == ("workload",)


def test_eliminating_the_largest_factor_changes_nothing() -> None:
    data, group = simulated(3, 10)
    other = np.arange(30) % 5
    one = fit_spread(data, {"a": group, "b": other}, SpreadPrior())
    two = fit_spread(data, {"a": other, "b": group}, SpreadPrior())
    np.testing.assert_allclose(one.posterior.own_mean, two.posterior.own_mean, rtol=1e-7)
    np.testing.assert_allclose(
        np.sort(one.hyper.factor_sd), np.sort(two.hyper.factor_sd), rtol=1e-4
    )
