"""Packs tables into JSON small enough for one page, and safe inside HTML."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING, Any

from rigledger.legible import legible

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    import polars as pl

# Inside a script element these would end it, open a comment or break a line of old parsers.
_UNSAFE = re.compile("[<>&\u2028\u2029\u200e\u200f\u202a-\u202e\u2066-\u2069]")
_WORTH_A_LIST = 0.5


def packed(rows: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """Pack rows by column; a column that repeats itself becomes a list of words and places in it.

    Args:
        rows: Rows with the same keys.

    Returns:
        ``rows`` (their number) and ``columns``: name to a list of values, or to ``words`` and
        ``at``.
    """
    names = list(rows[0]) if rows else []
    return packed_columns({name: [row[name] for row in rows] for name in names})


def packed_columns(columns: Mapping[str, list[Any] | pl.Series]) -> dict[str, Any]:
    """Pack columns of the same length, as `packed` packs rows; where there are no rows, none."""
    rows = len(next(iter(columns.values()), []))
    kept = {name: _packed_column(values) for name, values in columns.items()} if rows else {}
    return {"rows": rows, "columns": kept}


def _packed_column(values: list[Any] | pl.Series) -> list[Any] | dict[str, list[Any]]:
    if not isinstance(values, list):
        return _packed_series(values)
    words = list(dict.fromkeys(values))
    if len(words) > _WORTH_A_LIST * len(values):
        return values
    places = {word: place for place, word in enumerate(words)}
    return {"words": words, "at": [places[value] for value in values]}


def _packed_series(values: pl.Series) -> list[Any] | dict[str, list[Any]]:
    """Pack a column that holds no floats, without a look at each value in Python."""
    words = values.unique(maintain_order=True)
    if len(words) > _WORTH_A_LIST * len(values):
        return values.to_list()
    places = values.replace_strict(words, range(len(words)))
    return {"words": words.to_list(), "at": places.to_list()}


def json_to_show(value: object) -> str:
    """Write JSON for a script element whose texts will be shown: made legible."""
    return _for_html(legible(_json(value)))


def json_for_html(value: object) -> str:
    """Write JSON that can stand in a script element whatever text it holds.

    Raises:
        ValueError: A number is not finite.
    """
    return _for_html(_json(value))


def _json(value: object) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False, separators=(",", ":"))


def _for_html(text: str) -> str:
    return _UNSAFE.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
