"""Which runs are compared with which: sessions, shared passes, rounds, and nothing in common."""

from __future__ import annotations

import numpy as np
import pytest

from rigledger.statistics.blocks import Blocks, make_blocks, pad, shared_passes
from rigledger.statistics.inputs import PairArrays, RunArrays
from rigledger.statistics.spread_data import Groups, SortedRuns, group_by_session, sort_runs

PAIR = PairArrays(np.array([0]), np.array([1]))
Row = tuple[float, int, int, int, int]


def sorted_runs(rows: list[Row]) -> tuple[SortedRuns, Groups]:
    table = np.array(rows)
    whole = table[:, 1:].astype(np.int64)
    runs = RunArrays(np.exp(table[:, 0]), *whole.T, np.zeros(len(table)))
    ordered = sort_runs(runs, int(whole[:, 0].max()) + 1)
    return ordered, group_by_session(ordered)


def blocks_of(rows: list[Row], pairs: PairArrays = PAIR) -> Blocks:
    ordered, groups = sorted_runs(rows)
    _, keys, counts = shared_passes(ordered, groups, pairs)
    return make_blocks(groups, pairs, (keys, counts))


def test_a_session_with_both_levels_is_one_block_with_its_shared_passes() -> None:
    rows = [(1.0, 0, 5, 1, p) for p in range(4)] + [(1.2, 1, 5, 1, p) for p in range(3)]
    blocks = blocks_of(rows)
    assert [True] == list(blocks.within)
    assert blocks.change[0] == pytest.approx(0.2)
    shares = (blocks.share_from[0], blocks.share_to[0], blocks.share_both[0])
    assert shares == pytest.approx((1 / 4, 1 / 3, 3 / 12))


def test_passes_that_are_no_blocks_are_not_shared() -> None:
    rows = [(1.0, c, 5, 1, -1) for c in (0, 1) for _ in range(3)]
    assert [0.0] == list(blocks_of(rows).share_both)


def test_runs_of_a_session_without_the_other_level_are_left_out_of_the_change() -> None:
    rows = [(1.0, 0, 1, 1, 0), (1.2, 1, 1, 1, 0), (9.0, 0, 2, 2, 0)]
    blocks = blocks_of(rows)
    assert len(blocks.pair) == 1
    assert blocks.change[0] == pytest.approx(0.2)


def test_a_round_averages_over_the_sessions_of_each_level() -> None:
    rows = [
        (1.0, 0, 1, 1, 0),
        (1.0, 0, 1, 1, 1),
        (1.4, 0, 2, 1, 0),
        (2.0, 1, 3, 1, 0),
    ]
    blocks = blocks_of(rows)
    assert [False] == list(blocks.within)
    assert blocks.change[0] == pytest.approx(2.0 - 1.2)
    assert blocks.share_from[0] == pytest.approx((1 / 2 + 1) / 4)
    assert (blocks.sessions_from[0], blocks.sessions_to[0]) == (2, 1)


def test_levels_that_share_neither_session_nor_round_are_one_block() -> None:
    blocks = blocks_of([(1.0, 0, 1, 1, 0), (1.5, 1, 2, 2, 0)])
    assert [False] == list(blocks.within)
    assert blocks.change[0] == pytest.approx(0.5)


def test_pairs_keep_their_blocks_apart() -> None:
    rows = [(c * 1.0, c, s, s, 0) for c in range(4) for s in range(1 + c // 2)]
    pairs = PairArrays(np.array([0, 2]), np.array([1, 3]))
    padded = pad(blocks_of(rows, pairs), 2)
    assert [[True, False], [True, True]] == padded.used.tolist()
    np.testing.assert_allclose(padded.change, [[1.0, 0.0], [1.0, 1.0]])


def test_sums_over_shared_passes_are_taken_about_each_sessions_mean() -> None:
    off = {1: [1.0, 1.2, 1.4], 2: [3.0, 3.2]}
    on = {1: [2.0, 2.1, 2.5], 2: [7.0, 7.4]}
    rows = [
        (y, cell, s, s, p)
        for cell, side in ((0, off), (1, on))
        for s, values in side.items()
        for p, y in enumerate(values)
    ]
    ordered, groups = sorted_runs(rows)
    sums, _, _ = shared_passes(ordered, groups, PAIR)
    a, b = (np.concatenate([np.array(v) - np.mean(v) for v in side.values()]) for side in (off, on))
    assert sums.df[0] == 3
    expected = [a @ a, b @ b, a @ b]
    found = [sums.squares_from[0], sums.squares_to[0], sums.products[0]]
    np.testing.assert_allclose(found, expected, rtol=1e-9)
