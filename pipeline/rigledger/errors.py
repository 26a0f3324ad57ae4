"""Errors: a base class with a stable code and a typed place, and an offer of near names."""

from __future__ import annotations

import difflib
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, ClassVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


@dataclass(eq=False)
class RigledgerError(Exception):
    """Base of all errors a user can meet.

    Attributes:
        message: What is wrong, in a sentence.
        file: File or sheet it is about, relative where possible.
        row: Physical row, from 1, where one is known.
        column: Column or key.
        value: The offending value as written.
        next_step: What to do about it.
    """

    code: ClassVar[str] = "rigledger_error"

    message: str
    file: str | None = None
    row: int | None = None
    column: str | None = None
    value: str | None = None
    next_step: str | None = None

    def __str__(self) -> str:
        """Give place, message and next step in one line each."""
        place = ", ".join(
            f"{label} {item}"
            for label, item in (
                ("file", self.file),
                ("row", self.row),
                ("column", self.column),
                ("value", repr(self.value) if self.value is not None else None),
            )
            if item is not None
        )
        lines = [f"{place}: {self.message}" if place else self.message]
        if self.next_step:
            lines.append(f"Next step: {self.next_step}")
        return "\n".join(lines)

    def as_dict(self) -> dict[str, str | int | None]:
        """Give the error as plain JSON values."""
        return {"code": self.code} | asdict(self)

    def __reduce__(self) -> tuple[object, ...]:
        """Survive a process pool: dataclass fields are the arguments."""
        fields = (self.message, self.file, self.row, self.column, self.value, self.next_step)
        return (type(self), fields)


def raised_elsewhere(
    held: Mapping[str, Any], kinds: Iterable[type[RigledgerError]]
) -> RigledgerError:
    """Make an error again that another process gave as JSON values, by `RigledgerError.as_dict`.

    Args:
        held: The values.
        kinds: Classes that it can be of; an error of another one is one of the base class.
    """
    fields = {name: value for name, value in held.items() if name != "code"}
    by_code = {kind.code: kind for kind in kinds}
    return by_code.get(held["code"], RigledgerError)(**fields)


class ContractError(RigledgerError, ValueError):
    """The public contract in schema/ is broken."""

    code = "contract"


class StudyError(RigledgerError, ValueError):
    """A study's own files are missing, misspelt or contradict each other."""

    code = "study"


class MissingExtraError(RigledgerError, ImportError):
    """A command needs packages that the tester's install leaves out."""

    code = "missing_extra"


def near_names(name: str, legal: Iterable[str], most: int = 3) -> str:
    """Offer the legal names nearest to a misspelt one.

    Args:
        name: The name as written.
        legal: The names that would have been right.
        most: How many to offer at most.

    Returns:
        ``"did you mean 'a' or 'b'?"``; without a near one the legal names; empty without any.
    """
    names = sorted(set(legal))
    lowered = {item.lower(): item for item in names}
    found = difflib.get_close_matches(name.lower(), lowered, n=most, cutoff=0.6)
    if found:
        return "did you mean " + " or ".join(repr(lowered[item]) for item in found) + "?"
    if not names:
        return ""
    more = "" if len(names) <= 12 else f" and {len(names) - 12} more"
    return "known names: " + ", ".join(names[:12]) + more
