"""How a set says where its frame times are: the column, its unit, and how the files are written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.captures.problems import CaptureError
from rigledger.errors import near_names

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.contract.model import Contract

# Powers of ten from each unit of time to nanoseconds, the unit in which captures are kept.
NANOSECOND_DIGITS = {"s": 9, "ms": 6, "us": 3, "ns": 0}

_KEYS = (
    "frame_time_column",
    "timestamp_column",
    "unit",
    "delimiter",
    "decimal",
    "encoding",
    "pattern",
)


@dataclass(frozen=True, slots=True)
class CaptureSource:
    """Where the frame times of a capture file are.

    Attributes:
        column: The only column that is read.
        digits: Power of ten from the column's unit to nanoseconds (6 for ms).
        timestamps: Whether the column holds points in time; frame times are then their
            differences, so that n points make n - 1 frames.
        delimiter: One character between the columns of a CSV file.
        decimal: ``.`` or ``,``.
        encoding: Text encoding of a CSV file.
    """

    column: str
    digits: int
    timestamps: bool = False
    delimiter: str = ","
    decimal: str = "."
    encoding: str = "utf-8"


def capture_source(
    held: Mapping[str, object], contract: Contract, *, file: str = "result-set.toml"
) -> CaptureSource:
    """Read the ``[captures]`` table of a result set.

    Args:
        held: ``frame_time_column`` or ``timestamp_column``, ``unit`` and optionally
            ``delimiter``, ``decimal``, ``encoding``; ``pattern`` is left to others.
        contract: The contract, for its closed list of units.
        file: File named in errors.

    Raises:
        CaptureError: A key is missing, misspelt or has a value that isn't legal.
    """
    for key in sorted(set(held) - set(_KEYS)):
        raise CaptureError(
            "unknown key in [captures]", file=file, column=key, next_step=near_names(key, _KEYS)
        )
    column, timestamps = _column(held, file)
    source = CaptureSource(
        column=column,
        digits=unit_digits(_text(held, "unit", "", file), contract, file=file),
        timestamps=timestamps,
        delimiter=_text(held, "delimiter", ",", file),
        decimal=_text(held, "decimal", ".", file),
        encoding=_text(held, "encoding", "utf-8", file),
    )
    _check_layout(source, file)
    return source


def unit_digits(unit: str, contract: Contract, *, file: str | None = None) -> int:
    """Give the power of ten from a unit of time to nanoseconds.

    Args:
        unit: The unit as a stranger wrote it; looked up in the closed list, never evaluated.
        contract: The contract that holds the list.
        file: File named in errors.

    Raises:
        CaptureError: The unit is missing, not in the list or not one of time.
    """
    for known in contract.units.values():
        if known.unit in NANOSECOND_DIGITS and unit in (known.unit, *known.accepts):
            return NANOSECOND_DIGITS[known.unit]
    raise CaptureError(
        "not a unit of time that captures may use"
        if unit
        else "the unit of the captures is missing",
        file=file,
        column="unit",
        value=unit or None,
        next_step=near_names(unit, NANOSECOND_DIGITS),
    )


def _column(held: Mapping[str, object], file: str) -> tuple[str, bool]:
    given = [key for key in ("frame_time_column", "timestamp_column") if key in held]
    if len(given) != 1:
        raise CaptureError(
            "[captures] must name exactly one column",
            file=file,
            column="frame_time_column",
            next_step="state frame_time_column, or timestamp_column where the log holds times",
        )
    return _text(held, given[0], "", file), given[0] == "timestamp_column"


def _text(held: Mapping[str, object], key: str, default: str, file: str) -> str:
    value = held.get(key, default)
    if isinstance(value, str):
        return value
    raise CaptureError(
        "must be text", file=file, column=key, value=str(value), next_step="put it in quotes"
    )


def _check_layout(source: CaptureSource, file: str) -> None:
    if not source.column:
        raise CaptureError("the column's name is empty", file=file, column="frame_time_column")
    if len(source.delimiter) != 1 or source.delimiter in '"\r\n':
        raise CaptureError(
            "the delimiter must be one character",
            file=file,
            column="delimiter",
            value=source.delimiter,
        )
    if source.decimal not in {".", ","} or source.decimal == source.delimiter:
        raise CaptureError(
            "the decimal mark must be a point or a comma, and differ from the delimiter",
            file=file,
            column="decimal",
            value=source.decimal,
        )
    try:
        "".encode(source.encoding)
    except LookupError as error:
        raise CaptureError(
            "no such text encoding", file=file, column="encoding", value=source.encoding
        ) from error
