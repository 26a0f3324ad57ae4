"""Units: one registry for our own texts, and a closed list to look strangers' units up in."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

from rigledger.contract.load import load_contract
from rigledger.errors import near_names

if TYPE_CHECKING:
    from rigledger.contract.model import Contract, Unit


def registry() -> Any:  # noqa: ANN401 - pint makes the class of a registry when it is built
    """Give the one unit registry, with the definitions of schema/units.toml added.

    It parses the units that stand in schema/. It must never see a text from a file that was handed
    in: parsing evaluates arithmetic. Those go through `lookup_unit`.
    """
    return _registry(load_contract().unit_definitions)


@lru_cache(maxsize=8)
def _registry(definitions: tuple[str, ...]) -> Any:  # noqa: ANN401 - as above
    import pint

    held: Any = pint.UnitRegistry(cache_folder=None)
    for definition in definitions:
        held.define(definition)
    return held


def lookup_unit(text: str, contract: Contract | None = None) -> Unit | None:
    """Find a unit by its spelling or by one of the other spellings that the closed list accepts.

    Nothing is evaluated, and upper and lower case differ (``ms`` is not ``MS``). Spaces around are
    ignored.

    Args:
        text: The unit as handed in.
        contract: The contract; None for the one of this version.

    Returns:
        The unit, or None where the list has no such spelling.
    """
    units = (contract or load_contract()).units
    wanted = text.strip()
    if wanted in units:
        return units[wanted]
    return next((unit for unit in units.values() if wanted in unit.accepts), None)


def near_units(text: str, contract: Contract | None = None) -> str:
    """Offer the spellings nearest to a unit that the list doesn't have."""
    units = (contract or load_contract()).units
    spellings = [spelling for unit in units.values() for spelling in (unit.unit, *unit.accepts)]
    return near_names(text.strip(), spellings)


def convert(value: float, from_unit: str, to_unit: str) -> float:
    """Convert a value between two units of the closed list.

    A frame time given for a frame rate is the time of one frame: ``convert(16.0, "ms", "fps")`` is
    62.5.

    Args:
        value: The value; not zero where a time is turned into a rate.
        from_unit: Unit it is in, as in schema/units.toml.
        to_unit: Unit it is wanted in.

    Raises:
        ValueError: The units measure different things.
    """
    import pint

    held = registry()
    quantity, target = held.Quantity(value, from_unit), held.Unit(to_unit)
    upside_down = (held.Quantity(1, "frame") / quantity).dimensionality == target.dimensionality
    try:
        if upside_down and quantity.dimensionality != target.dimensionality:
            quantity = held.Quantity(1, "frame") / quantity
        return float(quantity.to(target).magnitude)
    except pint.DimensionalityError as error:
        raise ValueError(f"{from_unit} can't be turned into {to_unit}") from error
