"""The published interval against brute-force integration over everything unknown."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from rigledger.statistics.comparisons import (
    CellArrays,
    PairArrays,
    RunArrays,
    Settings,
    SpreadPrior,
    analyse,
)

PRIOR = SpreadPrior(median_pct=1.0, ln_sd=0.8)


def runs_of(y: np.ndarray, passes: np.ndarray) -> RunArrays:
    cells, n = y.shape
    zero = np.zeros(cells * n, dtype=np.int64)
    cell = np.repeat(np.arange(cells), n)
    return RunArrays(np.exp(y).reshape(-1), cell, zero, zero, passes, 0.0 * zero)


def brute_force(y: np.ndarray, level: float) -> float:
    """Half-width for two cells with the declared prior, by a fine grid over both ln sigma."""
    n = y.shape[1]
    x = np.log(0.01) + np.linspace(-6, 6, 161)
    squares = ((y - y.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    log_prior = -0.5 * ((x - np.log(0.01)) / 0.8) ** 2
    density = [log_prior - (n - 1) * x - 0.5 * s * np.exp(-2 * x) for s in squares]
    weight = [np.exp(d - d.max()) for d in density]
    joint = np.multiply.outer(weight[0] / weight[0].sum(), weight[1] / weight[1].sum())
    sd = np.sqrt(np.add.outer(np.exp(2 * x), np.exp(2 * x)) / n)
    low, high = 0.0, 1.0
    for _ in range(36):
        middle = 0.5 * (low + high)
        tail = float((joint * stats.norm.sf(middle / sd)).sum())
        low, high = (middle, high) if tail > (1 - level) / 2 else (low, middle)
    return 0.5 * (low + high)


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("n", [2, 3, 6])
def test_interval_and_p_of_one_pair_agree_with_brute_force(seed: int, n: int) -> None:
    rng = np.random.default_rng(seed)
    y = 4.0 + np.exp(rng.normal(np.log(0.01), 0.8, (2, 1))) * rng.normal(size=(2, n))
    cells = CellArrays({"level": np.arange(2)}, np.zeros(2, dtype=bool))
    pairs = PairArrays(np.array([0]), np.array([1]))
    no_blocks = np.full(2 * n, -1)
    chosen = Settings(spread_prior=PRIOR)
    row = analyse(runs_of(y, no_blocks), cells, pairs, chosen).comparisons
    change = y[1].mean() - y[0].mean()
    assert row.ln_change[0] == pytest.approx(change)
    for level, high in ((0.95, row.high95[0]), (0.90, row.high90[0])):
        half = np.log1p(high / 100) - row.ln_change[0]
        assert half == pytest.approx(brute_force(y, level), rel=5e-3)
    inside = brute_force(y, 1 - float(row.p_direction[0]))
    assert inside == pytest.approx(abs(change), rel=1e-2)
