from __future__ import annotations

import pytest

from rigledger.captures.problems import CaptureError
from rigledger.captures.source import (
    NANOSECOND_DIGITS,
    CaptureSource,
    capture_source,
    unit_digits,
)
from rigledger.contract import load_contract
from rigledger.contract.units import registry

CONTRACT = load_contract()


def test_a_declared_frame_time_column_is_read_from_the_manifest() -> None:
    held = {"frame_time_column": "ft", "unit": "microseconds", "delimiter": ";", "decimal": ","}
    expected = CaptureSource("ft", 3, timestamps=False, delimiter=";", decimal=",")
    assert expected == capture_source(held, CONTRACT)


def test_a_declared_timestamp_column_gives_differences() -> None:
    held = {"timestamp_column": "t", "unit": "s", "pattern": "captures/{workload}.csv"}
    assert CaptureSource("t", 9, timestamps=True) == capture_source(held, CONTRACT)


@pytest.mark.parametrize(
    ("held", "column", "next_step"),
    [
        ({"frame_time_colum": "a", "unit": "ms"}, "frame_time_colum", "frame_time_column"),
        ({"unit": "ms"}, "frame_time_column", "timestamp_column"),
        (
            {"frame_time_column": "a", "timestamp_column": "b", "unit": "ms"},
            "frame_time_column",
            "",
        ),
        ({"frame_time_column": "a"}, "unit", "ms"),
        ({"frame_time_column": "a", "unit": "fps"}, "unit", "ms"),
        ({"frame_time_column": "a", "unit": "mss"}, "unit", "did you mean 'ms'"),
        ({"frame_time_column": "a", "unit": 3}, "unit", "quotes"),
        ({"frame_time_column": "", "unit": "ms"}, "frame_time_column", ""),
        ({"frame_time_column": "a", "unit": "ms", "delimiter": "ab"}, "delimiter", ""),
        ({"frame_time_column": "a", "unit": "ms", "decimal": ","}, "decimal", ""),
        ({"frame_time_column": "a", "unit": "ms", "encoding": "latin-99"}, "encoding", ""),
    ],
)
def test_a_wrong_declaration_is_refused_naming_its_key(
    held: dict[str, object], column: str, next_step: str
) -> None:
    with pytest.raises(CaptureError) as caught:
        capture_source(held, CONTRACT)
    assert caught.value.column == column
    assert next_step in (caught.value.next_step or "")


def test_powers_of_ten_agree_with_the_unit_registry() -> None:
    # Reference: pint, a general-purpose library of units.
    for unit, digits in NANOSECOND_DIGITS.items():
        assert registry().Quantity(1, unit).to("ns").magnitude == pytest.approx(10**digits)


def test_every_spelling_that_the_closed_list_accepts_for_a_time_is_understood() -> None:
    spellings = {
        spelling: NANOSECOND_DIGITS[unit.unit]
        for unit in CONTRACT.units.values()
        if unit.unit in NANOSECOND_DIGITS
        for spelling in (unit.unit, *unit.accepts)
    }
    assert spellings == {spelling: unit_digits(spelling, CONTRACT) for spelling in spellings}
    assert len(spellings) > len(NANOSECOND_DIGITS)
