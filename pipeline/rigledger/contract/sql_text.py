"""Quoting for compiled SQL: all that goes into a statement comes from schema/, quoted here."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable


def identifier(name: str) -> str:
    """Quote a column or table name."""
    escaped = name.replace('"', '""')
    return f'"{escaped}"'


def text(value: str) -> str:
    """Quote a piece of text."""
    escaped = value.replace("'", "''")
    return f"'{escaped}'"


def texts(values: Iterable[str]) -> str:
    """Give a parenthesised list of quoted texts."""
    return "(" + ", ".join(text(value) for value in values) + ")"


def literal(value: float | str) -> str:
    """Give a bound as a literal: numbers in their shortest round trip, text quoted."""
    return text(value) if isinstance(value, str) else repr(value)
