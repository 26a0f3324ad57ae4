"""Quoting for the statements that are put together here."""

from __future__ import annotations


def identifier(name: str) -> str:
    """Quote a name for SQL."""
    return '"' + name.replace('"', '""') + '"'


def literal(text: str) -> str:
    """Quote a text for SQL."""
    return "'" + text.replace("'", "''") + "'"
