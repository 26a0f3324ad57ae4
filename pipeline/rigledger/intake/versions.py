"""Which columns hold versions: text that a spreadsheet may take for a number or a date."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from rigledger.contract.model import Field

_ENDINGS = ("_version", "_build")


def is_version(field: Field) -> bool:
    """Whether a column holds a version: text of no fixed form, by the ending of its name."""
    return field.type == "string" and field.pattern is None and field.name.endswith(_ENDINGS)
