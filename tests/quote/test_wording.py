"""Figures are written as a review prints them."""

from __future__ import annotations

from dataclasses import replace

import pytest

from rigledger.quote.figures import Figure
from rigledger.quote.syntax import Manner
from rigledger.quote.wording import Context, worded

LOSS = Figure("change", -11.64, -12.91, -10.34, "%", "higher", "loss")
SMALL = Figure("change", 3.21, 0.03, 6.44, "%", "higher", "gain")
LEVEL = Figure("change", 0.02, -1.1, 1.2, "%", "higher", "not_shown")
RATE = Figure("value", 63.304, 62.51, 64.1, "fps", "higher")
ENERGY = Figure("change", 3.21, 1.0, 6.4, "%", "lower", "loss")


def manner(text: str = "", digits: int | None = None) -> Manner:
    return Manner(frozenset(text.split()), digits)


@pytest.mark.parametrize(
    ("figure", "how", "expected"),
    [
        (LOSS, "", "−12 %"),
        (LOSS, "tight", "−12%"),
        (LOSS, "bare", "−12"),
        (LOSS, "size", "12 %"),
        (LOSS, "up-to size", "up to 12 %"),
        (LOSS, "faster-slower", "12 % slower"),
        (LOSS, "higher-lower interval", "12 % lower (10 to 13 %)"),
        (LOSS, "gain-loss", "12 % loss"),
        (LOSS, "interval", "−12 % (−13 to −10 %)"),
        (SMALL, "", "+3.2 %"),
        (SMALL, "interval", "+3.2 % (+0.03 to +6.44 %)"),
        (LEVEL, "", "0.0 %"),
        (LEVEL, "faster-slower", "0.0 %"),
        (LEVEL, "size interval", "0.0 % (−1.1 to +1.2 %)"),
        (ENERGY, "gain-loss", "3.2 % loss"),
        (ENERGY, "higher-lower", "3.2 % higher"),
        (RATE, "", "63.3 fps"),
        (RATE, "interval", "63.3 fps (62.5 to 64.1 fps)"),
        (replace(RATE, value=142.51), "", "143 fps"),
        (replace(RATE, value=99.96), "", "100 fps"),
        (replace(LOSS, value=9.96), "", "+10 %"),
        (replace(LOSS, value=-0.04), "", "0.0 %"),
        (replace(LOSS, up_to=True), "", "up to 12 %"),
        (Figure("count", 1024.0), "", "1024"),
        (Figure("share", 3.0, unit="%"), "", "3 %"),
        (Figure("share", 2.5, unit="%"), "", "2.5 %"),
    ],
)
def test_rounding_sign_unit_and_interval(figure: Figure, how: str, expected: str) -> None:
    assert worded(figure, manner(how)) == expected


def test_decimals_may_be_asked_for() -> None:
    assert worded(LOSS, manner("interval", 2)) == "−11.64 % (−12.91 to −10.34 %)"


@pytest.mark.parametrize(
    ("printed", "value", "expected"),
    [
        ("up to 12 % slower", -11.64, "up to 12 % slower"),
        ("up to 12 % slower", -13.2, "up to 13 % slower"),
        ("-11.6 %", -11.64, "−11.6 %"),
        ("about 3.0 %", 3.21, "about 3.2 %"),
        ("twice", 98.0, "twice"),
        ("twice", 81.0, "1.8 times"),
        ("1.5 times", 52.0, "1.5 times"),
    ],
)
def test_a_claims_figure_is_written_as_the_claim_prints_it(
    printed: str, value: float, expected: str
) -> None:
    figure = replace(LOSS, value=value, printed=printed)
    assert worded(figure, manner()) == expected


def test_a_claim_over_several_cells_is_written_as_it_holds_for_all_of_them() -> None:
    figure = replace(LOSS, value=-9.4, printed="10 % slower", stands=True)
    assert worded(figure, manner()) == "10 % slower"


def test_what_stands_around_it_is_not_written_twice() -> None:
    figure = replace(LOSS, printed="up to 12 % slower")
    assert worded(figure, manner(), Context(before="a loss of up to ")) == "12 % slower"
    assert worded(RATE, manner(), Context(after=" fps on")) == "63.3"
    assert worded(RATE, manner(), Context(after="&nbsp;fps")) == "63.3"
    assert worded(LOSS, manner("size"), Context(after="per cent")) == "12"
    assert worded(RATE, manner(), Context(after=" fpsx")) == "63.3 fps"


def test_a_sentence_starts_with_a_capital() -> None:
    up_to = replace(LOSS, up_to=True)
    assert worded(up_to, manner(), Context(starts_sentence=True)) == "Up to 12 %"
