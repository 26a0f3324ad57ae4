"""Strata, their shares of the draws, and lots."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from rigledger.audit.frame import FrameCell
from rigledger.audit.strata import allot, divide, draw, lot


def cell(rig: str, workload: str, resolution: str = "1920x1080", level: str = "x16") -> FrameCell:
    return FrameCell("anna", rig, workload, resolution, level, "anna.stack-0", "1", 3, 0.5, (0.9,))


CELLS = [
    cell(f"anna.{rig}", title, resolution)
    for rig in ("one", "two")
    for title in ("dawn", "mist", "rain")
    for resolution in ("1920x1080", "2560x1440", "3840x2160")
]


def test_the_finest_division_is_taken_that_gives_each_stratum_a_cell() -> None:
    divided = {draws: list(divide(CELLS, draws)) for draws in (6, 5, 2, 1)}
    assert {
        6: ["anna.one / dawn", "anna.one / mist", "anna.one / rain",
            "anna.two / dawn", "anna.two / mist", "anna.two / rain"],
        5: ["dawn", "mist", "rain"],
        2: ["anna.one", "anna.two"],
        1: ["all"],
    } == divided  # fmt: skip


@given(
    st.dictionaries(st.text("abcdefgh", min_size=1, max_size=3), st.integers(1, 30), min_size=1),
    st.integers(1, 300),
)
def test_draws_are_shared_out_whole_and_never_beyond_a_stratum(
    sizes: dict[str, int], draws: int
) -> None:
    held = allot(sizes, draws)
    wanted = min(max(draws, len(sizes)), sum(sizes.values()))
    assert wanted == sum(held.values())
    assert all(1 <= held[name] <= sizes[name] for name in sizes)


def test_shares_are_in_proportion() -> None:
    assert {"a": 10, "b": 20, "c": 5} == allot({"a": 100, "b": 200, "c": 50}, 35)


def test_a_draw_follows_from_the_seed_and_the_cell_alone() -> None:
    drawn = draw("seed", CELLS, 4)
    assert drawn == draw("seed", CELLS[::-1], 4)
    assert sorted(lot("seed", held) for held in CELLS)[:4] == [lot("seed", held) for held in drawn]


def test_every_cell_is_as_likely_to_be_drawn_over_many_seeds() -> None:
    """Binomial: 400 draws of 4 in 18 hit a cell 89 times on average, give or take 8.3."""
    hits = dict.fromkeys(CELLS, 0)
    for seed in range(400):
        for held in draw(str(seed), CELLS, 4):
            hits[held] += 1
    assert all(89 - 5 * 8.3 < count < 89 + 5 * 8.3 for count in hits.values())
