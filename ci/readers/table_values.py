"""What a table of a release holds, as plain values that any reader's can be held against."""

from __future__ import annotations

import csv
import datetime as dt
import json
import math
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from pathlib import Path

Value = str | int | float | bool | None
Rows = list[list[Value]]
# What a reader that reads types may give for each type of the standard.
TYPES: dict[str, tuple[type, ...]] = {
    "string": (str,), "integer": (int,), "number": (Decimal, float), "boolean": (bool,),
    "date": (dt.date,), "datetime": (dt.datetime,),
}  # fmt: skip


@dataclass(frozen=True)
class Field:
    """A column as the release describes it: its name and its type in the standard's words."""

    name: str
    kind: str


@dataclass(frozen=True)
class Table:
    """A table of a release.

    Attributes:
        name: Its name in datapackage.json.
        path: Its CSV file.
        fields: Its columns in order.
    """

    name: str
    path: Path
    fields: tuple[Field, ...]

    @property
    def parquet(self) -> Path | None:
        """Its Parquet copy; None where the release has none."""
        path = self.path.with_suffix(".parquet")
        return path if path.is_file() else None

    def rows(self, read: Iterable[Sequence[Any]], *, typed: bool = False) -> Rows:
        """Give rows as plain values; where ``typed``, a value of another type is pointed out."""
        kinds = [field.kind for field in self.fields]
        return [
            [plain(kind, value, typed=typed) for kind, value in zip(kinds, row, strict=True)]
            for row in read
        ]


def tables_of(folder: Path) -> list[Table]:
    """List the tables of a release."""
    described = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    return [
        Table(
            held["name"],
            folder / held["path"],
            tuple(Field(one["name"], one["type"]) for one in held["schema"]["fields"]),
        )
        for held in described["resources"]
        if "schema" in held
    ]


def text_rows(table: Table) -> list[list[str]]:
    """Read a table's cells as text, with the standard library alone; its first line is checked."""
    with table.path.open(encoding="utf-8", newline="") as stream:
        header, *rows = csv.reader(stream)
    if header != [field.name for field in table.fields]:
        raise ValueError(f"{table.path}: the first line is {header}")
    return rows


def expected(table: Table) -> Rows:
    """Give what every reader must find in a table."""
    return table.rows(text_rows(table))


def plain(kind: str, value: Any, *, typed: bool = False) -> Value:  # noqa: ANN401 - a reader's own
    """Give a reader's value as a plain one: dates as ISO text, decimals as the nearest double.

    A blank is None. With ``typed``, a value that is not of the column's type becomes a text that
    says so, which equals nothing.
    """
    if _blank(value):
        return None
    if typed and not isinstance(value, TYPES[kind]):
        return f"{value!r} is a {type(value).__name__}"
    try:
        return _CASTS[kind](value)
    except (ValueError, OverflowError):
        return f"{value!r} is no {kind}"


def _blank(value: object) -> bool:
    # A missing time is unequal to itself, as NaN is.
    return value is None or value == "" or value != value  # noqa: PLR0124


def _integer(value: Any) -> int:  # noqa: ANN401 - text or a number
    number = int(value)
    if not isinstance(value, str) and number != value:
        raise ValueError
    return number


def _number(value: Any) -> float:  # noqa: ANN401 - text or a number
    number = float(value)
    if not math.isfinite(number):
        raise ValueError
    return number


def _boolean(value: object) -> bool:
    words = {"true": True, "false": False}
    return words[text] if (text := str(value).lower()) in words else bool(_fail())


def _fail() -> None:
    raise ValueError


def _date(value: object) -> str:
    return dt.date.fromisoformat(str(value)[:10]).isoformat()


def _datetime(value: object) -> str:
    moment = value if isinstance(value, dt.datetime) else dt.datetime.fromisoformat(str(value))
    aware = moment if moment.tzinfo else moment.replace(tzinfo=dt.UTC)
    return aware.astimezone(dt.UTC).isoformat()


_CASTS = {
    "string": str, "integer": _integer, "number": _number, "boolean": _boolean,
    "date": _date, "datetime": _datetime,
}  # fmt: skip
