"""Titles claim what the verdicts hold, and no more."""

from __future__ import annotations

from typing import Any

import pytest

from rigledger.charts.headline import (
    counts,
    headline,
    headline_over_titles,
    listed,
    shown_to_depend,
)

Row = dict[str, Any]
VERDICTS = {
    "L": ("loss", "material", None),
    "G": ("gain", "material", None),
    "i": ("not_shown", "immaterial", None),
    "?": ("not_shown", "unsettled", None),
    "l": ("loss", "unsettled", None),
    "x": (None, None, "one_run"),
}

LOSS_AND_GAIN = (
    "Loss of more than 3 % only with Large on p4; gain of more than 3 % only with Small on p1"
)


def bench(pattern: str, *, resolution: str = "1920x1080", title: str = "Vale") -> list[Row]:
    """Give a comparison per letter: platforms p1, p2, ... with the small card, then the large."""
    small, large = pattern.split("|")
    rows = []
    for card, letters in (("Small", small), ("Large", large)):
        for number, letter in enumerate(letters, 1):
            direction, size, why = VERDICTS[letter]
            rows.append({
                "rig": f"anna.p{number}-{card.lower()}", "platform": f"p{number}",
                "card_model": card, "resolution": resolution, "title": title,
                "direction": direction, "size": size, "no_verdict": why,
            })  # fmt: skip
    return rows


@pytest.mark.parametrize(
    ("pattern", "expected"),
    [
        ("iiLL|iiii", "Loss of more than 3 % only with Small on p3 and p4"),
        ("LLLL|iiii", "Loss of more than 3 % only with Small"),
        ("iLii|iLii", "Loss of more than 3 % only on p2"),
        ("LLLL|LLLL", "Loss of more than 3 % on every rig"),
        ("LLi?|iiii", "Loss of more than 3 % with Small on p1 and p2, 1 of 8 not settled"),
        ("LLix|iiii", "Loss of more than 3 % with Small on p1 and p2, 1 of 8 not settled"),
        (
            "Giii|iiiL",
            LOSS_AND_GAIN,
        ),
        ("iiii|iiii", "Every change lies within ±3 %"),
        ("iiix|iiii", "Every change that has a verdict lies within ±3 %"),
        ("iii?|iiii", "No change of more than 3 % shown; 1 of 8 not settled"),
        ("xxxx|xxxx", "No comparison allows a verdict"),
    ],
)
def test_the_title_follows_from_the_verdicts(pattern: str, expected: str) -> None:
    assert expected == headline(bench(pattern), 3, depends=True)


def test_only_is_not_said_where_no_dependence_was_shown() -> None:
    said = headline(bench("iiLL|iiii"), 3, depends=False)
    assert said == "Loss of more than 3 % with Small on p3 and p4"


def test_a_loss_at_one_resolution_is_not_said_of_all() -> None:
    rows = bench("LLii|iiii") + bench("iiii|iiii", resolution="2560x1440")
    said = headline(rows, 3, depends=True)
    assert said == "Loss of more than 3 % only with Small on p1 and p2 at 1920x1080"


def test_losses_at_resolutions_that_differ_by_rig_are_said_to_be_partial() -> None:
    rows = bench("LLii|iiii") + bench("Liii|iiii", resolution="2560x1440")
    said = headline(rows, 3, depends=True)
    assert said.endswith("on p1 and p2, not at every resolution")


def test_over_titles_the_titles_with_a_loss_are_named() -> None:
    rows = bench("Liii|iiii", title="Vale") + bench("iiii|iiii", title="Moor")
    assert headline_over_titles(rows, 3) == "Loss of more than 3 % in Vale"


def test_the_counts_add_up_to_the_comparisons() -> None:
    said = counts(bench("LGi?|xiii"), 3)
    assert said == (
        "8 comparisons: 1 with a loss of more than 3 %, 1 with a gain of more than 3 %, "
        "4 within ±3 %, 1 not settled, 1 without a verdict."
    )


def test_a_loss_whose_size_is_open_is_counted_as_such() -> None:
    said = counts(bench("l?ii|iiil"), 3)
    assert said == "8 comparisons: 5 within ±3 %, 3 not settled (of them 2 a loss of some size)."


def test_a_dependence_among_many_tests_needs_a_small_q_too() -> None:
    tests = [
        {"depends": True, "q": 0.001},
        {"depends": True, "q": 0.17},
        {"depends": False, "q": 0.001},
    ]
    assert [shown_to_depend(test) for test in tests] == [True, False, False]


def test_names_are_listed_with_and() -> None:
    assert [listed(names) for names in ([], ["a"], ["a", "b"], ["a", "b", "c"])] == [
        "", "a", "a and b", "a, b and c",
    ]  # fmt: skip
