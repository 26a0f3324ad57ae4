from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from rigledger.captures.exact import LARGEST_NS, is_not_finite, is_number, nanoseconds


@pytest.mark.parametrize(
    ("text", "digits", "expected"),
    [
        ("7.8370", 6, 7_837_000),
        ("7.837", 6, 7_837_000),
        ("0.1", 6, 100_000),
        ("16.6666665", 6, 16_666_667),  # a half goes away from zero
        ("16.66666649999", 6, 16_666_666),  # rounded once, not twice
        ("-0.0000005", 6, -1),
        ("0.016667", 9, 16_667_000),
        ("1.5e1", 6, 15_000_000),
        ("2E-3", 9, 2_000_000),
        ("1764000000123456789", 0, 1_764_000_000_123_456_789),
        ("1764000000.123456789", 9, 1_764_000_000_123_456_789),
        ("1e-300", 6, 0),
        ("1e400", 6, None),
        ("0e400", 6, 0),
    ],
)
def test_decimal_text_becomes_whole_nanoseconds_exactly(
    text: str, digits: int, expected: int | None
) -> None:
    assert expected == nanoseconds(text, digits)


@given(st.integers(-LARGEST_NS, LARGEST_NS), st.sampled_from([0, 3, 6, 9]))
def test_nanoseconds_written_in_a_larger_unit_come_back_unchanged(value: int, digits: int) -> None:
    sign, body = "-" * (value < 0), str(abs(value)).rjust(digits + 1, "0")
    cut = len(body) - digits
    text = f"{sign}{body[:cut]}.{body[cut:]}"
    assert value == nanoseconds(text, digits)


@given(st.decimals(0, 10**9, places=9))
def test_no_value_is_off_by_more_than_half_a_nanosecond(number: object) -> None:
    found = nanoseconds(format(number, "f"), 6)
    assert found is not None
    assert abs(Fraction(str(number)) * 10**6 - found) <= Fraction(1, 2)


@pytest.mark.parametrize("text", ["1", "1.", ".5", "+3", "-2.5", "1e3", "1E-03", "0"])
def test_plain_and_exponent_spellings_are_numbers(text: str) -> None:
    assert is_number(text)


@pytest.mark.parametrize(
    "text", ["", ".", "1,5", "1_000", "0x10", "nan", "inf", "1e", "1 2", "１", "--1", "1e1000"]
)
def test_other_spellings_are_no_numbers(text: str) -> None:
    assert not is_number(text)


@pytest.mark.parametrize("text", ["NaN", "nan", "-inf", "Infinity", "+INF"])
def test_not_a_number_and_infinity_are_recognised_as_such(text: str) -> None:
    assert is_not_finite(text)
