"""The closed list of units, and the registry for our own texts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigledger.contract.units import convert, lookup_unit, near_units, registry

if TYPE_CHECKING:
    from rigledger.contract import Contract


def test_the_registry_parses_every_unit_of_the_list(contract: Contract) -> None:
    assert list(contract.units) == [name for name in contract.units if registry().Unit(name)]


@pytest.mark.parametrize(
    ("unit", "base", "size"),
    # Sizes by the SI brochure, 9th edition, tables 3, 4 and 7; a frame and a transfer are counted.
    [
        ("ms", "s", 1e-3),
        ("us", "s", 1e-6),
        ("ns", "s", 1e-9),
        ("fps", "1/s", 1.0),
        ("MT/s", "1/s", 1e6),
        ("GB", "byte", 1e9),
        ("MHz", "1/s", 1e6),
        ("J", "W * s", 1.0),
        ("percent", "dimensionless", 0.01),
        ("count", "dimensionless", 1.0),
    ],
)
def test_units_have_their_standard_sizes(unit: str, base: str, size: float) -> None:
    assert pytest.approx(size, rel=1e-15) == registry().Quantity(1.0, unit).to(base).magnitude


@pytest.mark.parametrize("spelling", ["ms", " ms ", "millisecond", "msec"])
def test_a_unit_is_found_by_each_of_its_spellings(spelling: str) -> None:
    found = lookup_unit(spelling)
    assert found is not None
    assert found.unit == "ms"


@pytest.mark.parametrize(
    "text",
    ["", "MS", "furlong", "ms*2", "2 ms", "__import__('os')", "10**10**10", "fps + 1", "m s"],
)
def test_a_unit_outside_the_list_is_not_found_and_never_evaluated(text: str) -> None:
    assert lookup_unit(text) is None


def test_no_spelling_means_two_units(contract: Contract) -> None:
    spellings = [text for unit in contract.units.values() for text in (unit.unit, *unit.accepts)]
    assert sorted(set(spellings)) == sorted(spellings)


def test_near_spellings_are_offered() -> None:
    assert (
        near_units("milisecond") == "did you mean 'millisecond' or 'milliseconds' or 'microsecond'?"
    )


@pytest.mark.parametrize(
    ("value", "from_unit", "to_unit", "expected"),
    [
        (16.0, "ms", "fps", 62.5),
        (62.5, "fps", "ms", 16.0),
        (20_000.0, "us", "fps", 50.0),
        (16_000.0, "us", "ms", 16.0),
        (60.0, "fps", "fps", 60.0),
        (1.5, "s", "ms", 1500.0),
        (50.0, "percent", "dimensionless", 0.5),
    ],
)
def test_values_are_converted(value: float, from_unit: str, to_unit: str, expected: float) -> None:
    assert pytest.approx(expected, rel=1e-12) == convert(value, from_unit, to_unit)


@pytest.mark.parametrize(("from_unit", "to_unit"), [("W", "fps"), ("fps", "W"), ("GB", "s")])
def test_units_of_different_things_are_not_converted(from_unit: str, to_unit: str) -> None:
    with pytest.raises(ValueError, match="can't be turned into"):
        convert(1.0, from_unit, to_unit)
