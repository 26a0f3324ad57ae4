"""Loads a file of published values and compares numbers at their printed precision."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

VALUES = Path(__file__).parent / "values"

Printed = str | list[str]


@pytest.fixture
def published() -> Callable[[str], dict[str, Any]]:
    """Gives the content of ``values/<name>.toml``: its source, inputs and expected numbers."""

    def load(name: str) -> dict[str, Any]:
        return tomllib.loads((VALUES / f"{name}.toml").read_text(encoding="utf-8"))

    return load


@pytest.fixture
def as_printed() -> Callable[..., None]:
    """Asserts that numbers round to what is printed (half a unit of the last printed digit).

    ``relative`` widens the comparison for numbers printed with more digits than double
    precision or an iterative source can hold.
    """

    def compare(printed: Printed, actual: object, *, relative: float = 0.0) -> None:
        texts = [printed] if isinstance(printed, str) else printed
        numbers = np.atleast_1d(np.asarray(actual, dtype=float))
        expected = np.array([float(text) for text in texts])
        assert expected.shape == numbers.shape
        room = np.maximum([_half_unit(text) for text in texts], relative * np.abs(expected))
        wrong = np.flatnonzero(~(np.abs(numbers - expected) <= room))
        assert not wrong.size, [(texts[i], numbers[i]) for i in wrong]

    return compare


def _half_unit(text: str) -> float:
    if text == "Inf":
        return 0.0
    exponent = Decimal(text).as_tuple().exponent
    assert isinstance(exponent, int)
    # A hair over half a unit: the printed number itself is not exact in binary.
    return float(Decimal(5).scaleb(exponent - 1)) * (1 + 1e-9)
