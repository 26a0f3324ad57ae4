"""From cells seen to a bound and a decision."""

from __future__ import annotations

import pytest
from scipy import stats

from rigledger.audit.decide import Tested, bound_of, decide, tolerated_cells

TITLES = ("dawn", "dusk", "mist", "rain", "snow", "tide")


def frame(
    drawn: int,
    seen: dict[str, int] | None = None,
    *,
    titles: tuple[str, ...] = TITLES,
    each: int = 40,
    power: float = 1.0,
) -> list[Tested]:
    """Cells of some titles on two rigs; of each title so many drawn, and so many of those seen."""
    hits = seen or {}
    return [
        Tested(
            title, f"anna.{('one', 'two')[n % 2]}", title, power, n < drawn, n < hits.get(title, 0)
        )
        for title in titles
        for n in range(each)
    ]


def test_none_of_forty_out_of_240_leaves_at_most_fifteen() -> None:
    """The worked figure: P(X = 0) for 15 moved of 240, 40 drawn, is above 5 %, for 16 it is not."""
    one = frame(40, titles=("all",), each=240)
    assert (15, 15) == (bound_of(one).at_most, bound_of(one).untested_at_most)
    chances = [stats.hypergeom.pmf(0, 240, moved, 40) for moved in (15, 16)]
    assert chances[0] > 0.05 > chances[1]


def test_a_shift_that_is_often_missed_makes_the_bound_larger() -> None:
    bounds = [bound_of(frame(20, power=power)).at_most for power in (1.0, 0.8, 0.5)]
    assert sorted(bounds) == bounds
    assert bounds[0] < bounds[2]


def test_the_table_stands_where_the_bound_is_within_what_is_tolerated() -> None:
    decision = decide(frame(20), tolerated_pct=10)
    assert ("stands", 24, None) == (decision.verdict, decision.tolerated, decision.named)
    assert decision.bound.at_most <= 24


def test_one_title_that_moved_is_named_and_the_rest_is_bounded() -> None:
    decision = decide(frame(20, {"tide": 12}), tolerated_pct=10)
    assert decision.named is not None
    assert ("retest_these", "title", ("tide",), 40) == (
        decision.verdict, decision.named.kind, decision.named.names, decision.named.cells
    )  # fmt: skip
    assert (200, 0) == (decision.named.elsewhere.cells, decision.named.elsewhere.moved)
    assert decision.named.elsewhere.at_most <= tolerated_cells(200, 10)


def test_naming_after_looking_asks_for_more_confidence() -> None:
    """Bonferroni: 6 titles to choose from, two kinds, up to three names."""
    named = decide(frame(20, {"tide": 12}), tolerated_pct=10).named
    assert named is not None
    assert pytest.approx(1 - 0.05 / (6 * 2 * 3)) == named.elsewhere.level


def test_two_titles_that_moved_are_both_named() -> None:
    decision = decide(frame(24, {"tide": 20, "snow": 20}), tolerated_pct=15)
    assert decision.named is not None
    assert ("snow", "tide") == decision.named.names


def test_what_moves_everywhere_asks_for_everything() -> None:
    decision = decide(frame(20, dict.fromkeys(TITLES, 4)), tolerated_pct=10)
    assert ("retest_all", None) == (decision.verdict, decision.named)


def test_a_frame_of_which_nothing_was_measured_asks_for_everything() -> None:
    decision = decide(frame(0), tolerated_pct=10)
    assert ("retest_all", 240) == (decision.verdict, decision.bound.at_most)
