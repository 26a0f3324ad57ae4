"""What SQL says of one text cell: blank or not, spelling, bounds, value.

Spelling is strict and ASCII: whole numbers without signs in front or leading zeros, decimal points
with digits on both sides, dates of ISO 8601 that are in the calendar, times of RFC 3339. Values are
cast only after their spelling is right.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.sql_text import identifier, literal, text, texts

if TYPE_CHECKING:
    from rigledger.contract.model import Field, Table

SQL_TYPES = {
    "string": "VARCHAR",
    "integer": "BIGINT",
    "number": "DOUBLE",
    "boolean": "BOOLEAN",
    "date": "DATE",
    "datetime": "TIMESTAMP",
}
"""DuckDB types of the contract's types. A datetime is kept in UTC."""

_DAY = "[0-9]{4}-(0[1-9]|1[0-2])-(0[1-9]|[12][0-9]|3[01])"
_TIME = "([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]([.][0-9]{1,6})?"
_OFFSET = "(Z|[+-]([01][0-9]|2[0-3]):[0-5][0-9])"
_SPELLINGS = {
    "integer": "-?(0|[1-9][0-9]*)",
    "number": "-?(0|[1-9][0-9]*)([.][0-9]+)?([eE][+-]?[0-9]+)?",
    "date": _DAY,
    "datetime": f"{_DAY}T{_TIME}{_OFFSET}",
    "datetime or local": f"{_DAY}T{_TIME}{_OFFSET}?",
}
INK = r"[^\s\pZ\p{Cf}]"
"""A character that can be seen."""


def typed_columns(table: Table) -> str:
    """Give names and types of a table's columns, as a statement that creates it has them."""
    return ", ".join(f"{identifier(one.name)} {SQL_TYPES[one.type]}" for one in table.fields)


def blank(field: Field) -> str:
    """Say that a cell is blank; a required text of nothing but spaces is blank too."""
    column = identifier(field.name)
    empty = f"{column} is null or {column} = ''"
    if field.type == "string" and field.required:
        return f"({empty} or not regexp_matches({column}, {text(INK)}))"
    return f"({empty})"


def spelled(field: Field, *, local_times: bool) -> str:
    """Say that a cell is spelt as its type.

    Args:
        field: The column.
        local_times: Whether a datetime may leave its offset out.
    """
    column = identifier(field.name)
    if field.type == "string":
        return "true"
    if field.type == "boolean":
        return f"{column} in ('true', 'false')"
    matches = f"regexp_full_match({column}, {text(spelling(field, local_times=local_times))})"
    return (
        f"({matches} and {_in_calendar(column)})" if field.type in {"date", "datetime"} else matches
    )


def spelling(field: Field, *, local_times: bool) -> str:
    """Give the regular expression of how a cell is spelt that is neither text nor a boolean."""
    kind = "datetime or local" if field.type == "datetime" and local_times else field.type
    return _SPELLINGS[kind]


def _in_calendar(column: str) -> str:
    return f"coalesce(try_cast(left({column}, 10) as date) >= date '0001-01-01', false)"


def within(field: Field) -> str:
    """Say that a well-spelt cell is finite and within its bounds.

    A bound is compared with the value that will be stored: a number's nearest double. NaN and
    infinity are within no bounds; a whole number too long for 64 bits has no value, so it is
    outside too.
    """
    if field.type in {"string", "boolean"}:
        return "true"
    if field.type == "datetime" and field.minimum is None and field.maximum is None:
        return "true"
    value = _plain_value(field)
    if field.minimum is not None and field.maximum is not None:
        # NaN and infinity sort above every number, so one comparison with both ends leaves them
        # out.
        lowest, highest = _bound(field, field.minimum), _bound(field, field.maximum)
        return f"coalesce({value} between {lowest} and {highest}, false)"
    return f"coalesce({' and '.join(_open_bounds(field, value))}, false)"


def _open_bounds(field: Field, value: str) -> list[str]:
    bounds = [f"isfinite({value})" if field.type == "number" else f"{value} is not null"]
    if field.minimum is not None:
        bounds.append(f"{value} >= {_bound(field, field.minimum)}")
    if field.maximum is not None:
        bounds.append(f"{value} <= {_bound(field, field.maximum)}")
    return bounds


def _bound(field: Field, bound: float | str) -> str:
    if field.type in {"date", "datetime"}:
        return f"{literal(bound)}::{SQL_TYPES[field.type]}"
    return f"{literal(bound)}::DOUBLE" if field.type == "number" else literal(bound)


def value(field: Field, *, local_times: bool, sound: bool = False) -> str:
    """Give a cell's value in its contract type; null where it is blank or wrongly spelt.

    Args:
        field: The column.
        local_times: Whether a datetime may leave its offset out.
        sound: Whether the whole column is known to be well spelt, so that it need not be looked at
            again.
    """
    column = identifier(field.name)
    if field.type == "string":
        return f"nullif({column}, '')"
    if field.type == "boolean":
        return f"case {column} when 'true' then true when 'false' then false end"
    if sound:
        return _plain_value(field)
    finite = f" and isfinite({_plain_value(field)})" if field.type == "number" else ""
    condition = spelled(field, local_times=local_times) + finite
    return f"case when {condition} then {_plain_value(field)} end"


def _plain_value(field: Field) -> str:
    column = identifier(field.name)
    if field.type == "datetime":
        return _utc(column)
    return f"try_cast({column} as {SQL_TYPES[field.type]})"


def _utc(column: str) -> str:
    """Subtract a time's offset by hand: the engine's own cast leaves it out."""
    local = f"try_cast(regexp_replace({column}, '[+-][0-9]{{2}}:[0-9]{{2}}$', '') as timestamp)"
    offset = f"right({column}, 6)"
    hours, minutes = (
        f"try_cast({offset}[2:3] as integer)",
        f"try_cast(right({column}, 2) as integer)",
    )
    shift = f"to_minutes({hours} * 60 + {minutes})"
    return (
        f"case when right({column}, 1) = 'Z' then try_cast({column} as timestamp)"
        f" when left({offset}, 1) = '+' then {local} - {shift}"
        f" when left({offset}, 1) = '-' then {local} + {shift} else {local} end"
    )


def text_failures(field: Field) -> dict[str, str]:
    """Give the constraints on a text cell: rule -> condition that is true where it is wrong."""
    column = identifier(field.name)
    failures = {}
    if field.enum:
        failures["not_in_vocabulary"] = f"{column} not in {texts(field.enum)}"
    if field.pattern is not None:
        failures["pattern_mismatch"] = f"not regexp_full_match({column}, {text(field.pattern)})"
    if field.max_length is not None:
        failures["too_long"] = f"length({column}) > {field.max_length}"
    return failures


def failures(field: Field, *, local_times: bool) -> dict[str, str]:
    """Give everything that can be wrong with one cell: rule -> condition that is true where it is.

    Exclusive where they must be: a blank cell is only missing, a wrongly spelt one has no bounds.
    """
    filled = f"not {blank(field)}"
    found = {"required_missing": blank(field)} if field.required else {}
    if field.type != "string":
        fine = spelled(field, local_times=local_times)
        found["type_spelling"] = f"{filled} and not {fine}"
        if field.type != "boolean":
            found["out_of_bounds"] = f"{filled} and {fine} and not {within(field)}"
    return found | {rule: f"{filled} and {wrong}" for rule, wrong in text_failures(field).items()}


def fine(field: Field, *, local_times: bool, first_look: bool = False) -> str:
    """Say in one cheap condition that nothing is wrong with a cell.

    Args:
        field: The column.
        local_times: Whether a datetime may leave its offset out.
        first_look: Whether it may also be false of a few cells with which nothing is wrong: of
            texts that begin with another sign than one of ASCII. Quicker to prepare for few rows.
    """
    column = identifier(field.name)
    parts = [
        *([] if field.type == "string" else [spelled(field, local_times=local_times)]),
        *([] if field.type in {"string", "boolean"} else [within(field)]),
        *(f"not ({wrong})" for wrong in text_failures(field).values()),
    ]
    if field.required:
        return f"coalesce({' and '.join([*_ink(field, first_look=first_look), *parts])}, false)"
    if not parts:
        return "true"
    return f"({column} is null or {column} = '' or ({' and '.join(parts)}))"


def fine_value(field: Field) -> str:
    """Say in one cheap condition that nothing is wrong with a value that has its type already."""
    column = identifier(field.name)
    parts = [*_typed_bounds(field), *(f"not ({wrong})" for wrong in text_failures(field).values())]
    if field.required:
        return f"coalesce({' and '.join([f'{column} is not null', *_ink(field), *parts])}, false)"
    return f"({column} is null or ({' and '.join(parts)}))" if parts else "true"


def _typed_bounds(field: Field) -> list[str]:
    if field.type in {"string", "boolean"}:
        return []
    column = identifier(field.name)
    return [
        *([f"isfinite({column})"] if field.type == "number" else []),
        *([] if field.minimum is None else [f"{column} >= {_bound(field, field.minimum)}"]),
        *([] if field.maximum is None else [f"{column} <= {_bound(field, field.maximum)}"]),
    ]


def _ink(field: Field, *, first_look: bool = False) -> list[str]:
    """Say that a required text has something to see in it; plain first letters spare the search."""
    if field.type != "string" or field.enum:
        return []
    column = identifier(field.name)
    plain = f"{column} between '!' and '~'"
    return [plain if first_look else f"({plain} or regexp_matches({column}, {text(INK)}))"]
