"""What the contract asks of a typed frame, as expressions of polars: one for each kind of problem.

`pandera_schemas` asks them one by one, to say which row doesn't keep which.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Any

import polars as pl

from rigledger.contract.cells import INK

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from rigledger.contract.model import Field

    Condition = tuple[str, Callable[[pl.Expr], pl.Expr]]

TYPES: dict[str, Any] = {
    "string": pl.String,
    "integer": pl.Int64,
    "number": pl.Float64,
    "boolean": pl.Boolean,
    "date": pl.Date,
    "datetime": pl.Datetime("us"),
}
"""The type of a column by the contract's name of it."""


def first_of_its_key(key: Sequence[str], *, blanks: bool) -> pl.Expr:
    """Say of each row that no earlier one has its key.

    Args:
        key: Columns of the key.
        blanks: Whether blanks clash with each other, as in a primary key but not a unique one.
    """
    filled = (pl.any_horizontal if blanks else pl.all_horizontal)(pl.col(*key).is_not_null())
    earlier = pl.int_range(pl.len()).over(*key) > 0
    return ~(filled & earlier)


def conditions(field: Field) -> list[Condition]:
    """Give what a filled cell of a column must be: the problem's name, and what holds without it.

    Numbers must be finite and within both bounds; a null answer counts as one that holds.
    """
    return [*_bounds(field), *_text(field)]


def _bounds(field: Field) -> list[Condition]:
    """Make one condition of everything that may be out of bounds: each costs a pass."""
    if field.type in {"string", "boolean"}:
        return []
    least, most = _bound(field, field.minimum), _bound(field, field.maximum)
    finite = field.type == "number"
    if not finite and least is None and most is None:
        return []

    def within(cell: pl.Expr) -> pl.Expr:
        parts = [cell.is_finite()] if finite else []
        parts += [] if least is None else [cell >= least]
        parts += [] if most is None else [cell <= most]
        return pl.all_horizontal(parts)

    return [("out_of_bounds", within)]


def _bound(field: Field, bound: float | str | None) -> float | date | datetime | None:
    if not isinstance(bound, str):
        return bound
    if field.type == "date":
        return date.fromisoformat(bound)
    return datetime.fromisoformat(bound).replace(tzinfo=None)


def _text(field: Field) -> list[Condition]:
    found: list[Condition] = []
    if field.type == "string" and field.required:
        found.append(("required_missing", lambda cell: cell.str.contains(INK)))
    if field.enum:
        words = list(field.enum)
        found.append(("not_in_vocabulary", lambda cell: cell.is_in(words)))
    if field.pattern is not None:
        whole = f"^(?:{field.pattern})$"
        found.append(("pattern_mismatch", lambda cell: cell.str.contains(whole)))
    if field.max_length is not None:
        longest = field.max_length
        found.append(("too_long", lambda cell: cell.str.len_chars() <= longest))
    return found
