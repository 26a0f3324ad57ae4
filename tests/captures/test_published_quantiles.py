"""Quantiles of type 7 against published ones (Hyndman and Fan 1996; see the value file)."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract

if TYPE_CHECKING:
    from collections.abc import Callable

VALUES = Path(__file__).parents[1] / "published" / "values" / "quantile-types-22.toml"


def test_percentiles_of_frame_time_are_type_7(computed: Callable[..., list[tuple]]) -> None:
    held = tomllib.loads(VALUES.read_text(encoding="utf-8"))
    data = [round(value * 1_000_000) for value in held["inputs"]["data"]]  # as milliseconds
    shares = held["inputs"]["probabilities"]
    base = load_contract().metric("low_1pct_rank_fps")
    chosen = [
        replace(base, metric=f"p{share}", unit="ms", tail_pct=round(100 - 100 * share, 6))
        for share in shares
    ]
    found = {
        name: value for _, name, value, _, _ in computed(("r", data, None, None), chosen=chosen)
    }
    expected = {
        f"p{share}": float(text)
        for share, text in zip(shares, held["expected"]["type_7"], strict=True)
    }
    assert found == pytest.approx(expected, rel=1e-12)
