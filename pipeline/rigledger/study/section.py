"""Typed reading of TOML parts: no unknown key passes, values are held against the contract."""

from __future__ import annotations

import datetime as dt
import math
import re
import tomllib
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, NoReturn

from rigledger.errors import StudyError, near_names

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping
    from pathlib import Path

    from rigledger.contract import Field, Table

_PYTHON_TYPES: dict[str, tuple[type, ...]] = {
    "string": (str,),
    "integer": (int,),
    "number": (int, float),
    "boolean": (bool,),
    "date": (dt.date,),
    "datetime": (dt.datetime,),
}
Value = str | int | float | bool | dt.date | dt.datetime
Row = dict[str, Any]


@dataclass(frozen=True)
class Section:
    """One table of a TOML file, with its place for error messages.

    Attributes:
        file: Name of the file.
        place: Dotted path of the table in the file, ``levels[2]``; empty for the file itself.
        held: What the table holds.
    """

    file: str
    place: str
    held: Mapping[str, Any] = field(default_factory=dict)

    def path_of(self, key: str) -> str:
        """Give the dotted path of a key of this table."""
        return f"{self.place}.{key}" if self.place else key

    def fail(self, key: str, message: str, *, next_step: str | None = None) -> NoReturn:
        """Raise a StudyError at a key of this table."""
        value = self.held.get(key)
        raise StudyError(
            message,
            file=self.file,
            column=self.path_of(key),
            value=None if value is None or isinstance(value, dict) else str(value),
            next_step=next_step or None,
        )

    def refuse_unknown(self, legal: Iterable[str]) -> None:
        """Refuse keys that mean nothing here.

        Raises:
            StudyError: A key is unknown; near names are offered.
        """
        known = set(legal)
        for key in self.held:
            if key not in known:
                self.fail(key, "unknown key", next_step=near_names(key, known))

    def part(self, key: str, *, required: bool = False) -> Section:
        """Give the table below a key; an empty one where it may be missing.

        Raises:
            StudyError: It is missing though required, or is no table.
        """
        held = self.held.get(key)
        if held is None:
            if required:
                self.fail(key, f"the part [{self.path_of(key)}] is missing")
            held = {}
        if not isinstance(held, dict):
            self.fail(key, "must be a table", next_step=f"write it as [{self.path_of(key)}]")
        return Section(self.file, self.path_of(key), held)

    def parts(self, key: str) -> list[Section]:
        """Give the tables of an array of tables, in order; none where the key is missing.

        Raises:
            StudyError: It is no array of tables.
        """
        held = self.held.get(key, [])
        if not isinstance(held, list) or not all(isinstance(item, dict) for item in held):
            self.fail(
                key,
                "must be an array of tables",
                next_step=f"write each as [[{self.path_of(key)}]]",
            )
        return [
            Section(self.file, f"{self.path_of(key)}[{number}]", item)
            for number, item in enumerate(held, start=1)
        ]

    def value(self, column: Field) -> Any:  # noqa: ANN401 - the type is the field's
        """Give a checked value, None where it is missing and may be.

        Raises:
            StudyError: It is missing though required, of another type, or against a constraint.
        """
        if column.name not in self.held:
            if column.required:
                self.fail(column.name, f"is required: {column.description}")
            return None
        held = self.held[column.name]
        self._check(column, held)
        return float(held) if column.type == "number" else held

    def values(self, column: Field) -> tuple[Any, ...] | None:
        """Give a checked list of distinct values, None where it is missing and may be.

        Raises:
            StudyError: It is no list, empty, holds a value twice, or a value is against the field.
        """
        if column.name not in self.held:
            self.value(column)
            return None
        held = self.held[column.name]
        if not isinstance(held, list) or not held:
            self.fail(column.name, "must be a list with at least one value")
        for item in held:
            self._check(column, item)
        if len(set(held)) < len(held):
            self.fail(column.name, "names a value twice")
        return tuple(held)

    def one_of(self, key: str, legal: Collection[str], *, what: str) -> None:
        """Refuse a name, or a list of names, that isn't known.

        Raises:
            StudyError: A name is not among the legal ones.
        """
        held = self.held.get(key)
        for name in held if isinstance(held, list) else [held]:
            if name is not None and name not in legal:
                self.fail(key, f"no {what} {name!r}", next_step=near_names(str(name), legal))

    def _check(self, column: Field, value: Any) -> None:  # noqa: ANN401 - anything TOML can hold
        problem = problem_with(column, value)
        if problem:
            word = str(value)
            step = near_names(word, column.enum) if column.enum else None
            self.fail(column.name, problem, next_step=step)


def problem_with(column: Field, value: Any) -> str | None:  # noqa: ANN401 - anything TOML can hold
    """Say what is wrong with a typed value for a field of the contract.

    Args:
        column: The field.
        value: A value as TOML gives it.

    Returns:
        A sentence, None where the value is fine.
    """
    if not _type_fits(column, value):
        article = "an" if column.type == "integer" else "a"
        return f"must be {article} {column.type}, not {value!r}"
    checks: tuple[Callable[[Field, Any], str | None], ...] = (_text_problem, _bound_problem)
    return next((said for check in checks if (said := check(column, value))), None)


def _type_fits(column: Field, value: Any) -> bool:  # noqa: ANN401
    if isinstance(value, bool):
        return column.type == "boolean"
    if isinstance(value, dt.datetime):
        return column.type == "datetime"
    return isinstance(value, _PYTHON_TYPES[column.type])


def _text_problem(column: Field, value: Any) -> str | None:  # noqa: ANN401
    if not isinstance(value, str):
        return None
    if not value.strip():
        return "must not be blank"
    if column.enum and value not in column.enum:
        return f"{value!r} is not a word of the list {column.vocabulary}"
    if column.pattern and not re.fullmatch(column.pattern, value, re.ASCII):
        return f"{value!r} doesn't fit the pattern {column.pattern}"
    if column.max_length is not None and len(value) > column.max_length:
        return f"is longer than {column.max_length} characters"
    return None


def _bound_problem(column: Field, value: Any) -> str | None:  # noqa: ANN401
    if isinstance(value, (str, bool)):
        return None
    if isinstance(value, float) and not math.isfinite(value):
        return f"must be a finite number, not {value}"
    shown: Any = value.isoformat() if isinstance(value, dt.date) else value
    low: Any = column.minimum
    high: Any = column.maximum
    if low is not None and shown < low:
        return f"{shown} is below the smallest allowed value {low}"
    if high is not None and shown > high:
        return f"{shown} is above the largest allowed value {high}"
    return None


def read_toml(path: Path) -> Section:
    """Read a TOML file of a study.

    Raises:
        StudyError: It is missing, not UTF-8 or not TOML.
    """
    try:
        return Section(path.name, "", tomllib.loads(path.read_text(encoding="utf-8-sig")))
    except FileNotFoundError as error:
        raise StudyError(f"there is no {path.name}", file=str(path)) from error
    except OSError as error:
        raise StudyError(f"can't be read: {error.strerror}", file=str(path)) from error
    except UnicodeDecodeError as error:
        raise StudyError("is not UTF-8", file=path.name, next_step="save it as UTF-8") from error
    except tomllib.TOMLDecodeError as error:
        raise StudyError(f"is not valid TOML: {error}", file=path.name) from error


def read_row(
    section: Section,
    table: Table,
    *,
    defaults: Mapping[str, Any] | None = None,
    lists: Collection[str] = (),
    also: Collection[str] = (),
) -> Row:
    """Read one row: every field of a table, checked, nothing else.

    Args:
        section: The TOML table.
        table: The contract's table that gives fields and constraints.
        defaults: Values of keys that are left out.
        lists: Fields that hold a list of values.
        also: Further legal keys, which the caller reads.

    Returns:
        The values by field name, None for a missing optional one; lists as tuples.

    Raises:
        StudyError: An unknown key, a missing or an illegal value.
    """
    section.refuse_unknown({*table.field_names, *also})
    filled = Section(section.file, section.place, {**(defaults or {}), **section.held})
    return {
        column.name: filled.values(column) if column.name in lists else filled.value(column)
        for column in table.fields
    }


def refuse_doubles(sections: Iterable[Section], key: str) -> None:
    """Refuse a name that is given twice in an array of tables.

    Raises:
        StudyError: The second use of the name.
    """
    seen: dict[object, str] = {}
    for section in sections:
        name = section.held.get(key)
        if name in seen:
            section.fail(key, f"{name!r} is already used by {seen[name]}")
        seen[name] = section.place
