"""Exact binomial and hypergeometric limits; each file names its source.

values/hypergeometric-upper-bound.toml, clopper-pearson.toml, rule-of-three.toml.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rigledger.statistics.bounds import (
    Stratum,
    clopper_pearson,
    marked_interval,
    moved_bound,
    no_event_upper,
    trials_without_event,
)

if TYPE_CHECKING:
    from collections.abc import Callable


def test_hypergeometric_limits_are_the_textbook_ones(
    published: Callable[[str], dict[str, Any]],
) -> None:
    check = published("hypergeometric-upper-bound")
    printed = check["expected"]
    actual = [marked_interval(*case) for case in check["inputs"]["cases_m_n_N"]]
    pairs = zip(printed["textbook_lower"], printed["textbook_upper"], strict=True)
    assert [(int(lower), int(upper)) for lower, upper in pairs] == actual


def test_the_bound_on_moved_cells_is_the_upper_hypergeometric_limit(
    published: Callable[[str], dict[str, Any]],
) -> None:
    check = published("hypergeometric-upper-bound")
    actual = [
        moved_bound([Stratum(cells, tested, moved)], level=0.975).at_most
        for moved, tested, cells in check["inputs"]["cases_m_n_N"]
    ]
    assert [int(text) for text in check["expected"]["textbook_upper"]] == actual


def test_clopper_pearson_limits_are_as_printed(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("clopper-pearson")
    inputs = check["inputs"]
    cases = zip(inputs["cases"], inputs["levels"], strict=True)
    lower, upper = zip(*(clopper_pearson(*case, level=at) for case, at in cases), strict=True)
    as_printed(check["expected"]["lower"], lower, relative=1e-14)
    as_printed(check["expected"]["upper"], upper, relative=1e-14)


def test_the_limit_after_no_event_is_as_printed_and_near_three_over_n(
    published: Callable[[str], dict[str, Any]], as_printed: Callable[..., None]
) -> None:
    check = published("rule-of-three")
    trials, printed = check["inputs"]["n"], check["expected"]
    exact = [no_event_upper(n) for n in trials]
    as_printed(printed["exact_upper95"], exact)
    assert all(
        limit < float(rough) < 1.2 * limit
        for limit, rough in zip(exact, printed["three_over_n"], strict=True)
    )


def test_the_fewest_trials_without_event_are_as_printed(
    published: Callable[[str], dict[str, Any]],
) -> None:
    check = published("rule-of-three")
    actual = [trials_without_event(rate) for rate in check["inputs"]["rate_bounds"]]
    assert [int(text) for text in check["expected"]["smallest_n_no_event"]] == actual
