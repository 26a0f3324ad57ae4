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
_FEW_WORDS = 3
_EVEN = 0.99  # share of numbers with the same decimals from which any other is odd
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
        even: Whether all its plain numbers have just so many decimals.
    """

    field: Field
    words: tuple[str, ...] | None = None
    decimals: int | None = None
    even: bool = False

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
        if self.enum and len(self.words or ()) <= _FEW_WORDS:
            # To compare a cell with so few words is quicker than to look it up among them.
            whens = (
                f"WHEN {text(word)} THEN {text(word)}::{self.enum}" for word in self.words or ()
            )
            return f"CASE {self.name} {' '.join(whens)} END"
        if self.exact():
            return f"CAST({self.exact_name} AS {self.type})"
        return f"TRY_CAST({self.name} AS {self.type})"

    @property
    def exact_name(self) -> str:
        """The name under which `exact` goes while the file is read."""
        return identifier(f"exactly {self.field.name}")

    def exact(self) -> str | None:
        """Give a number of even decimals as a decimal; None of others.

        A decimal of so few digits is divided by a power of ten to give the double: the division of
        two whole numbers that a double holds is rounded once, as reading the text is.
        """
        if not self.even or self.field.type != "number" or self.decimals is None:
            return None
        digits = _whole_digits(self.field) + self.decimals
        return f"TRY_CAST({self.name} AS DECIMAL({digits}, {self.decimals}))"

    def typed(self) -> str:
        """Give the value of a plain row."""
        if not self.constant:
            return self.name
        return text(self.words[0]) + "::VARCHAR" if self.words else "NULL::VARCHAR"

    def spelling(self) -> str | None:
        """Give the regular expression that a plain number matches whole; None of others.

        Numbers of even decimals need none: they are plain where they are written as they are read.
        """
        if not self.number or self.even:
            return None
        if self.decimals is None:
            return ""
        spelled = _spelled(self.field, self.decimals)
        return spelled if self.field.required else f"(?:{spelled})?"

    @property
    def number(self) -> bool:
        """Whether it holds numbers."""
        return self.field.type in {"integer", "number"}

    def wrong(self) -> str | None:
        """Say that a cell is not plain; None of numbers with a `spelling`. Null counts as false."""
        if self.words is not None:
            return self._unknown()
        if self.even:
            read = self.exact_name if self.exact() else self.read
            odd = f"{read} IS NULL OR CAST({read} AS VARCHAR) <> {self.name}"
            return odd if self.field.required else f"({self.name} <> '' AND ({odd}))"
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
        if not self.number:
            return []
        kind = cells.SQL_TYPES[self.field.type]
        ends = (("<", self.field.minimum), (">", self.field.maximum))
        return [f"{self.read} {sign} {end!r}::{kind}" for sign, end in ends if end is not None]


def _spelled(field: Field, decimals: int) -> str:
    """Give the regular expression of numbers with no more digits than the column's bounds have."""
    low = field.minimum
    sign = "" if isinstance(low, int | float) and low >= 0 else "-?"
    point = f"(?:[.][0-9]{{1,{decimals}}})?" if decimals else ""
    whole = f"[1-9][0-9]{{0,{_whole_digits(field) - 1}}}"
    from_one = isinstance(low, int | float) and low >= 1
    return f"{whole}{point}" if from_one else f"{sign}(?:0|{whole}){point}"


def _whole_digits(field: Field) -> int:
    """Give how many digits before the point a number within its bounds has at most."""
    low, high = field.minimum, field.maximum
    if not isinstance(low, int | float) or not isinstance(high, int | float):
        return _DIGITS
    return min(_DIGITS, len(str(int(max(abs(low), abs(high))))))


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
    counts = _decimals(field, sample) if field.type != "datetime" else Counter()
    if not counts:
        return None if field.required else PlainColumn(field)
    ((usual, often),) = counts.most_common(1)
    even = often >= _EVEN * counts.total() and _whole_digits(field) + usual <= _DIGITS
    return PlainColumn(field, decimals=usual if even else max(counts), even=even)


def _decimals(field: Field, sample: Sequence[str]) -> Counter[int]:
    """Count how many decimals the numbers of a sample have; those that are wrong don't count."""
    spelled = re.compile(_spelled(field, _DIGITS if field.type == "number" else 0))
    counts: Counter[int] = Counter()
    for cell, times in Counter(sample).items():
        if spelled.fullmatch(cell) and _is_within(float(cell), field):
            counts[len(cell.partition(".")[2])] += times
    return counts


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
