"""Lists what a version of the contract allows, a line each, so that a change of it is seen.

Usage: python tests/upgrades/listing.py

Writes the listing of the newest version to ``newest.txt`` beside this file. Run it only while that
version is not published; from then on a change of the contract is a new version.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.contract import load_contract

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.contract import Contract, Field, Table

NEWEST = Path(__file__).parent / "newest.txt"


def listing(contract: Contract) -> str:
    """Give the contract's version, tables, columns, metrics, rules and words, a line each."""
    return "".join(f"{line}\n" for line in [f"contract {contract.version}", *_lines(contract)])


def _lines(contract: Contract) -> Iterator[str]:
    for (group, name), table in sorted(contract.tables.items()):
        yield " ".join([f"table {group}/{name}", *_keys(table)])
        yield from (f"column {group}/{name}.{field.name} {_field(field)}" for field in table.fields)
    yield from (f"metric {name} {held.unit}" for name, held in sorted(contract.metrics.items()))
    yield from (f"rule {name} {held.severity}" for name, held in sorted(contract.rules.items()))
    for name, words in sorted(contract.vocabularies.items()):
        yield f"words {name}: {' '.join(words.terms)}"
    yield f"units {' '.join(contract.units)}"


def _keys(table: Table) -> Iterator[str]:
    yield f"key={','.join(table.primary_key)}"
    yield from (f"unique={','.join(key)}" for key in table.unique_keys)
    yield from (f"{key.field}={key.table}.{key.reference}" for key in table.foreign_keys)
    yield from (
        name for name in ("metric_columns", "fact_columns", "optional") if getattr(table, name)
    )


def _field(field: Field) -> str:
    limits = ("unit", "unit_from", "vocabulary", "minimum", "maximum", "pattern", "max_length")
    stated = [
        f"{name}={getattr(field, name)}" for name in limits if getattr(field, name) is not None
    ]
    return " ".join([field.type, *(["required"] if field.required else []), *stated])


def main() -> None:
    """Write the listing of the newest version."""
    NEWEST.write_text(listing(load_contract()), encoding="utf-8", newline="\n")


if __name__ == "__main__":
    main()
