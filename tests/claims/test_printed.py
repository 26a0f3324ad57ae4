"""What a printed figure stands for: all that rounds to it."""

from __future__ import annotations

from contextlib import suppress

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigledger.claims.printed import Printed, PrintedError, understood


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("12 %", Printed("12 %", "percent", 12.0, 0.5, None, None, plain="12 %")),
        ("-3.5 %", Printed("-3.5 %", "percent", 3.5, 0.05, "-", None, plain="3.5 %")),
        ("+6 %", Printed("+6 %", "percent", 6.0, 0.5, "+", None, plain="6 %")),
        (
            "up to 12 % slower",
            Printed("up to 12 % slower", "percent", 12.0, 0.5, "loss", None, True, "up to 12 %"),
        ),
        (
            "about 8 per cent",
            Printed("about 8 per cent", "percent", 8.0, 1.0, plain="about 8 per cent"),
        ),
        ("0 %", Printed("0 %", "percent", 0.0, 0.5, plain="0 %")),
        ("1,5 % higher", Printed("1,5 % higher", "percent", 1.5, 0.05, "+", plain="1,5 %")),
        ("142 fps", Printed("142 fps", "value", 142.0, 0.5, None, "fps", plain="142 fps")),
        ("twice as fast", Printed("twice as fast", "times", 100.0, 5.0, "+", plain="twice")),
        ("1.5 times", Printed("1.5 times", "times", 50.0, 5.0, "+", plain="1.5 times")),
        ("half", Printed("half", "times", 50.0, 5.0, "-", plain="half")),
    ],
)
def test_a_printed_figure_is_understood_with_its_rounding(text: str, expected: Printed) -> None:
    assert expected == understood(text)


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("12", "has no unit"),
        ("1,200 fps", "the comma may divide thousands or be a decimal sign"),
        ("-5 % slower", "has two signs"),
        ("12 % bigger", "the word 'bigger' says neither gain nor loss"),
        ("1.5 times slower", "a number of times slower can be read in two ways; state per cent"),
        ("0 times", "a number of times is above zero"),
        ("a lot", "is no value as a review prints it"),
        ("", "is no value as a review prints it"),
    ],
)
def test_what_can_be_read_in_two_ways_is_refused(text: str, says: str) -> None:
    with pytest.raises(PrintedError) as caught:
        understood(text)
    assert says == str(caught.value)


@given(st.floats(0.01, 999), st.integers(0, 3))
def test_whatever_rounds_to_a_figure_lies_within_half_a_unit_of_it(
    value: float, digits: int
) -> None:
    # Half a unit of the last digit: the usual reading of a rounded figure (ISO 80000-1:2009,
    # annex B, from memory).
    printed = understood(f"{value:.{digits}f} %")
    assert abs(value - printed.size) <= printed.half_unit * (1 + 1e-9)
    assert printed.half_unit == pytest.approx(0.5 * 10.0**-digits)


@given(st.text(max_size=20))
def test_any_text_is_understood_or_refused(text: str) -> None:
    with suppress(PrintedError):
        assert understood(text).size >= 0
