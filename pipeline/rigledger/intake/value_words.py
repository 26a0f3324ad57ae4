"""What a finding about one cell says: the reason, and the spelling that was evidently meant."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from rigledger.errors import near_names
from rigledger.intake.text import excerpt
from rigledger.intake.versions import is_version

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import duckdb

    from rigledger.contract.model import Field, Table

StudyNames = dict[str, dict[str, str]]
"""Column to the study's names for it, by what a person may write instead, such as a title."""

_NOTHING = {"nan", "n/a", "na", "-", "--", "none", "null", "#n/a", "x", "?", "tbd"}
_DIGITS = r"[0-9]+(?:[.,][0-9]+)?"
_CLOCK = r"[0-9]{1,3}:[0-5][0-9](?::[0-5][0-9])?(?:[.,][0-9]+)?"
_POINT = (
    "Write $point; if all numbers have a decimal comma, add to result-set.toml:\n"
    '[files]\ndecimal = ","'
)
_NUMBER_STEPS = (
    (r"-?[0-9]+,[0-9]+", _POINT),
    (
        rf"{_DIGITS}\s*(?:-|–|\.\.|/|to|bis)\s*{_DIGITS}",
        "Write one value: a range is no measured value, so give each run a row of its own.",
    ),
    (
        rf"{_DIGITS}\s*±.*",
        "Write the value of this run alone; the spread is worked out from the runs.",
    ),
    (
        r"[0-9]{1,3}(?:[ ,.'’\u00a0\u202f][0-9]{3})+(?:[.,][0-9]+)?",
        "Write the number without marks between thousands, such as 1234.5.",
    ),
)
_LETTERS = str.maketrans("oOlI|", "00111")
_DAY = re.compile(r"(\d{1,4})[./-](\d{1,2})[./-](\d{1,4})")
_SIZE = re.compile(r"(\d{3,5})\s*[x×X*]\s*(\d{3,5})")
_HEIGHTS = {
    "720p": "1280x720", "1080p": "1920x1080", "fhd": "1920x1080", "full hd": "1920x1080",
    "1440p": "2560x1440", "qhd": "2560x1440", "2160p": "3840x2160", "4k": "3840x2160",
    "uhd": "3840x2160", "1600p": "2560x1600",
}  # fmt: skip


def words(
    rule: str,
    column: str,
    value: str | None,
    table: Table,
    con: duckdb.DuckDBPyConnection,
    *,
    names: StudyNames,
) -> tuple[str, str | None]:
    """Give reason and next step of a violation; None for the rule's own next step.

    Args:
        rule: The rule.
        column: The column, or the columns of a key joined by ``", "``.
        value: The cell as written.
        table: The table.
        con: The database, in which names that would have been right are looked up.
        names: The study's own names.
    """
    if rule == "duplicate_key":
        return f"an earlier row has the same {column}", None
    if rule == "unknown_reference":
        return _reference_words(column, value, table, con)
    return _cell_words(rule, value or "", table.field(column), names.get(column, {}))


def _cell_words(
    rule: str, written: str, field: Field, names: Mapping[str, str]
) -> tuple[str, str | None]:
    column = field.name
    reasons = {
        "required_missing": f"{column} is blank: {field.description}",
        "too_long": f"{column} allows {field.max_length} characters, here are {len(written)}",
        "not_in_vocabulary": f"{excerpt(written)!r} is no word of {column}",
        "type_spelling": f"{column} is {_kind(field)}, written like {field.example}",
        "pattern_mismatch": f"{column} is written like {field.example}",
        "out_of_bounds": f"{column} allows {_bounds(field)}",
    }
    steps: dict[str, Callable[[], str | None]] = {
        "required_missing": lambda: None if is_version(field) else _blank_step(field),
        "not_in_vocabulary": lambda: _word_step(written, field),
        "type_spelling": lambda: spelling_step(written, field),
        "pattern_mismatch": lambda: pattern_step(written, field, names),
        "out_of_bounds": lambda: _bounds_step(written, field),
    }
    return reasons[rule], steps[rule]() if rule in steps else None


def _blank_step(field: Field) -> str:
    return f"Fill the cell in: {_one_of(field)}" if field.enum else "Fill the cell in."


def _one_of(field: Field) -> str:
    return f"one of {', '.join(field.enum)}."


def _word_step(written: str, field: Field) -> str:
    near = near_names(written, field.enum)
    return f"Did{near[3:]}" if near.startswith("did ") else f"Write {_one_of(field)}"


def _bounds(field: Field) -> str:
    unit = f" {field.unit}" if field.unit not in {None, "count", "dimensionless"} else ""
    return f"{field.minimum} to {field.maximum}{unit}"


def _bounds_step(written: str, field: Field) -> str | None:
    if field.type == "number" and re.fullmatch(r"0+(?:[.,]0+)?", written):
        return "Leave the cell blank where there is no value; nought is a value."
    return None


def _kind(field: Field) -> str:
    kinds = {
        "integer": "a whole number",
        "number": "a number",
        "boolean": "true or false",
        "date": "a date",
        "datetime": "a time",
    }
    return kinds.get(field.type, "text")


def spelling_step(written: str, field: Field) -> str | None:
    """Offer the spelling that was evidently meant; None where there is none."""
    stripped = written.strip()
    if stripped.lower() in _NOTHING:
        return "Leave the cell blank where there is no value."
    if field.type in {"number", "integer"}:
        step = _number_step(stripped, field)
    elif field.type in {"date", "datetime"}:
        step = _day_step(stripped, field)
    else:
        step = None
    if step is None and stripped != written and stripped:
        return f"Remove the spaces around {stripped!r}."
    return step


def _number_step(text: str, field: Field) -> str | None:
    for pattern, step in _NUMBER_STEPS:
        if re.fullmatch(pattern, text):
            return step.replace("$point", text.replace(",", "."))
    if re.fullmatch(_CLOCK, text):
        return f"{_unit(field)}. Write the value in it, as a number alone."
    if unit := re.fullmatch(rf"({_DIGITS})\s*([^\d\s.,][^\d]*)", text):
        number = unit[1].replace(",", ".")
        same = unit[2].strip().casefold() == (field.unit or "").casefold()
        alone = (
            f"Write the number alone, {number}" if same else "Write the value in it, as a number"
        )
        return f"{_unit(field)}. {alone}." if same else f"{_unit(field)}. {alone} alone."
    meant = text.translate(_LETTERS)
    if meant != text and re.fullmatch(_DIGITS, meant):
        return f"A letter stands in the number: write {meant.replace(',', '.')} if that is meant."
    if field.type == "integer" and re.fullmatch(r"-?[0-9]+[.][0-9]+", text):
        return f"{field.name} counts whole things: write {round(float(text))}, or what it was."
    return None


def _unit(field: Field) -> str:
    if field.unit in {None, "count", "dimensionless"}:
        return "The column has no unit"
    return f"The column's unit is {field.unit}"


def _day_step(text: str, field: Field) -> str | None:
    example = str(field.example)
    if re.fullmatch(r"[1-9][0-9]{4}(?:[.,][0-9]+)?", text):
        return (
            f"A spreadsheet has stored the day as a number: format the cell as text and write it "
            f"like {example}."
        )
    if _DAY.match(text):
        return f"Write year, month and day in this order with hyphens, like {example}."
    if field.type == "datetime" and re.match(r"\d{4}-\d{2}-\d{2} \d", text):
        return f"Write a T between day and time, like {example}."
    return f"Write it like {example}."


def pattern_step(written: str, field: Field, names: Mapping[str, str]) -> str | None:
    """Offer the form that was evidently meant, if it fits the column's pattern.

    Args:
        written: The cell.
        field: The column.
        names: What a person may write instead of the study's names, with those names.
    """
    pattern = re.compile(field.pattern or "")
    stripped = written.strip()
    if stripped != written and pattern.fullmatch(stripped):
        return f"Remove the spaces around {stripped!r}."
    if size := _SIZE.fullmatch(stripped):
        meant = f"{size[1]}x{size[2]}"
        return f"Write {meant}." if pattern.fullmatch(meant) else None
    if (meant := _HEIGHTS.get(stripped.lower(), "")) and pattern.fullmatch(meant):
        return f"Write width x height in pixels; {stripped} is usually {meant}."
    return _name_step(stripped, pattern, names) or f"Write it like {field.example}."


def _name_step(text: str, pattern: re.Pattern[str], names: Mapping[str, str]) -> str | None:
    by_title = {title.casefold(): name for title, name in names.items()}
    plain = re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")
    for offer in (by_title.get(text.casefold()), text.lower(), plain):
        known = offer in names.values() if names else True
        if offer and known and pattern.fullmatch(offer) and re.search("[a-z]", offer):
            return f"Write {offer}."
    near = near_names(plain, names.values())
    return f"{near[0].upper()}{near[1:]}" if near else None


def _reference_words(
    column: str, value: str | None, table: Table, con: duckdb.DuckDBPyConnection
) -> tuple[str, str]:
    key = next(key for key in table.foreign_keys if key.field == column)
    legal = con.execute(
        f'SELECT DISTINCT "{key.reference}" FROM intake.text_{key.table} WHERE "{key.reference}" '
        f"<> '' LIMIT 500"
    ).fetchall()
    names = near_names(value or "", [name for (name,) in legal])
    near = f"{names[0].upper()}{names[1:]} Correct the name that is wrong" if names else ""
    return (
        f"{key.table} has no {key.reference} {excerpt(value)!r}",
        f"{near}, or add the row to {key.table}." if near else f"Add the row to {key.table}.",
    )
