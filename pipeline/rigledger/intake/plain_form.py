"""How the cells of a long CSV file look where they are plain, told from a sample of its rows.

A column of few words becomes an enumeration of them, a column of one word a constant. What is plain
says the contract alone; the sample only says which of the plain forms to expect, so that most rows
need no look at their text. A row with any other cell is looked at as every row of a short file is.
"""

from __future__ import annotations

import re
from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract import cells
from rigledger.contract.sql_text import identifier, text

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from rigledger.contract.model import Field

MOST_WORDS = 20_000
"""Beyond so many words a column is kept as text."""

_UNSEEN = 0.002  # share of cells with words that the sample lacks, from which a column is text
_DIGITS = 15  # a double holds so many digits, a 64-bit integer too
_KINDS = {"string", "integer", "number", "datetime"}
_AT = "[0-9]{4}-[0-9]{2}-[0-9]{2}T([01][0-9]|2[0-3]):[0-5][0-9]:[0-5][0-9]([.][0-9]{1,6})?Z"


def enum_of(column: str) -> str:
    """Name the type of a column of several words."""
    return f"intake.{identifier(f'words of {column}')}"


@dataclass(frozen=True, slots=True)
class PlainColumn:
    """A column and what its plain cells look like.

    Attributes:
        field: The column.
        words: All words that plain cells hold, in their order; None where they are kept as text,
            and for numbers and times.
        decimals: Most decimals of its plain numbers; None where they are all blank.
    """

    field: Field
    words: tuple[str, ...] | None = None
    decimals: int | None = None

    @property
    def name(self) -> str:
        """The quoted name of the column."""
        return identifier(self.field.name)

    @property
    def constant(self) -> bool:
        """Whether all plain cells are the same, so that the column needs no place."""
        return self.words is not None and len(self.words) <= 1

    @property
    def enum(self) -> str | None:
        """The type of a column of several words."""
        several = self.words is not None and len(self.words) > 1
        return enum_of(self.field.name) if several else None

    @property
    def type(self) -> str:
        """The type of its values."""
        return self.enum or cells.SQL_TYPES[self.field.type]

    @property
    def read(self) -> str:
        """The name under which the value of a cell goes while the file is read."""
        return identifier(f"value of {self.field.name}")

    def value(self) -> str | None:
        """Give the value of a cell as it is kept; None where none is."""
        if self.constant:
            return None
        if self.type == "VARCHAR":
            return f"nullif({self.name}, '')"
        return f"TRY_CAST({self.name} AS {self.type})"

    def typed(self) -> str:
        """Give the value of a plain row."""
        if not self.constant:
            return self.name
        return text(self.words[0]) + "::VARCHAR" if self.words else "NULL::VARCHAR"

    def spelling(self) -> str | None:
        """Give the regular expression that a plain number matches whole; None of others."""
        if self.field.type not in {"integer", "number"}:
            return None
        if self.decimals is None:
            return ""
        spelled = _spelled(self.field, self.decimals)
        return spelled if self.field.required else f"(?:{spelled})?"

    def wrong(self) -> str | None:
        """Say that a cell is not plain; None of numbers. Null counts as false."""
        if self.words is not None:
            return self._unknown()
        if self.field.type == "string":
            return f"NOT ({cells.fine(self.field, local_times=True)})"
        if self.field.type == "datetime":
            odd = f"NOT regexp_full_match({self.name}, {text(_AT)}) OR {self._no_day()}"
            filled = f"{self.name} <> '' AND ({odd})"
            return f"({self._blank()} OR {odd})" if self.field.required else f"({filled})"
        return None

    def _no_day(self) -> str:
        return f"coalesce(year({self.read}), 0) < 1"

    def _blank(self) -> str:
        return f"coalesce({self.name}, '') = ''"

    def _unknown(self) -> str:
        if not self.words:
            return f"{self.name} <> ''"
        if self.constant:
            other = f"{self.name} <> {text(self.words[0])}"
            return f"{self.name} IS NULL OR {other}"
        unknown = f"{self.read} IS NULL"
        return unknown if self.field.required else f"({unknown} AND {self.name} <> '')"

    def beyond(self) -> list[str]:
        """Say on either side that a number is beyond its bound; of so few digits none is infinite.

        Null counts as false.
        """
        if self.spelling() is None:
            return []
        kind = cells.SQL_TYPES[self.field.type]
        ends = (("<", self.field.minimum), (">", self.field.maximum))
        return [f"{{}} {sign} {end!r}::{kind}" for sign, end in ends if end is not None]


def _spelled(field: Field, decimals: int) -> str:
    """Give the regular expression of numbers with no more digits than the column's bounds have."""
    low, high = field.minimum, field.maximum
    sign = "" if isinstance(low, int | float) and low >= 0 else "-?"
    most = _DIGITS if high is None else min(_DIGITS, len(str(int(high))))
    point = f"(?:[.][0-9]{{1,{decimals}}})?" if decimals else ""
    whole = f"[1-9][0-9]{{0,{most - 1}}}"
    from_one = isinstance(low, int | float) and low >= 1
    return f"{whole}{point}" if from_one else f"{sign}(?:0|{whole}){point}"


def plain_column(
    field: Field, sample: Sequence[str], known: Collection[str] = ()
) -> PlainColumn | None:
    """Tell the plain form of a column.

    Args:
        field: The column.
        sample: Some of its cells, from all over the file.
        known: Words that other tables say it may hold.

    Returns:
        The form, its words not yet held against the contract; None where there is none.
    """
    if field.type not in _KINDS or (field.type == "datetime" and field.minimum is not None):
        return None
    if field.type == "string":
        return PlainColumn(field, _words(field, sample, known))
    spelled = re.compile(_spelled(field, _DIGITS if field.type == "number" else 0))
    found = (cell for cell in set(sample) if field.type != "datetime" and spelled.fullmatch(cell))
    within = [len(cell.partition(".")[2]) for cell in found if _is_within(float(cell), field)]
    if field.required and not within:
        return None
    return PlainColumn(field, decimals=max(within, default=None))


def _is_within(value: float, field: Field) -> bool:
    low, high = field.minimum, field.maximum
    return (
        not isinstance(low, str)
        and not isinstance(high, str)
        and (low is None or value >= low)
        and (high is None or value <= high)
    )


def _words(field: Field, sample: Sequence[str], known: Collection[str]) -> tuple[str, ...] | None:
    counts = Counter(sample)
    blank = counts.pop("", 0)
    once = sum(times == 1 and word not in known for word, times in counts.items())
    words = {*counts, *known}
    if len(words) > MOST_WORDS or once > _UNSEEN * len(sample):
        return None
    if len(words) == 1 and blank and not field.required:
        return None  # one word and blanks: neither a constant nor worth a type
    return tuple(sorted(words))
