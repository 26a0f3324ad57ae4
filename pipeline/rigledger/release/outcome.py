"""What rechecking a release can find, as data."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal[
    "altered",  # a file whose hash is not the recorded one
    "missing",  # a recorded file that is not there
    "extra",  # a file that nothing records
    "unreadable",  # a file that can't be read as what it should be
    "contract",  # a cell or key against the contract
    "copy_differs",  # the Parquet copy holds other rows than the CSV
    "value_differs",  # a derived value that doesn't follow from the source tables
    "row_differs",  # a derived row too many or too few
    "rows_counted",  # another number of rows than recorded
    "made_differently",  # a generated file that is rebuilt with other bytes
    "signature",  # no signature, or one that the key didn't make
    "register",  # not listed in the register, retracted, or not the newest
    "set_differs",  # not what the result sets as handed in give
    "fingerprint",  # another fingerprint than the one given
]
Verdict = Literal["as_published", "values_follow", "made_by_another_version", "altered"]


@dataclass(frozen=True, slots=True)
class Difference:
    """One thing in which a release is not what it says it is.

    Attributes:
        kind: Sort of difference.
        file: File of the release, relative.
        says: The difference in a sentence.
        key: Key of the row, ``rig=… metric=…``.
        column: Column.
        recorded: What stands in the release.
        found: What was found, or rebuilt.
        other_version: Whether another version of the program or its libraries may explain it.
    """

    kind: Kind
    file: str
    says: str
    key: str | None = None
    column: str | None = None
    recorded: str | None = None
    found: str | None = None
    other_version: bool = False

    @property
    def apart(self) -> tuple[float, float] | None:
        """How far the recorded number lies from the found one: in its unit, and in per cent.

        None where one of them is no number; the per cent is infinite where zero was found.
        """
        try:
            recorded, found = float(self.recorded or ""), float(self.found or "")
        except ValueError:
            return None
        by = recorded - found
        return by, 100 * by / abs(found) if found else math.copysign(math.inf, by)

    def as_dict(self) -> dict[str, Any]:
        """Give the difference as JSON values."""
        return {name: getattr(self, name) for name in self.__slots__} | {
            "apart": self.apart[0] if self.apart else None
        }
