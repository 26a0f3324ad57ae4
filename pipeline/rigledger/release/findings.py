"""What the rules said about the sets of a release."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.study.rows import insert_rows
from rigledger.tabular import create_tables

if TYPE_CHECKING:
    from collections.abc import Iterable

    import duckdb

    from rigledger.contract.model import Contract
    from rigledger.findings import Finding


@dataclass(frozen=True, slots=True)
class SetFinding:
    """A finding on an admitted set.

    Attributes:
        set_id: The set.
        finding: What a rule said.
        waived: The curator's reason for admitting the set in spite of it; None where none was
            needed.
    """

    set_id: str
    finding: Finding
    waived: str | None = None


def fill_findings(
    con: duckdb.DuckDBPyConnection, contract: Contract, findings: Iterable[SetFinding]
) -> None:
    """Fill the table ``findings`` with those on sets that the connection holds.

    A set under embargo isn't among them, and neither is a finding on another set that names it.
    """
    table = contract.table("derived", "findings")
    create_tables(con, [table])
    held = {str(row[0]) for row in con.execute("SELECT set_id FROM sets").fetchall()}
    listed = list(findings)
    closed = {item.set_id for item in listed} - held
    rows = [
        dict(zip(table.field_names, _row(item), strict=True))
        for item in listed
        if item.set_id in held and not any(name in item.finding.reason for name in closed)
    ]
    insert_rows(con, table.name, rows)


def _row(item: SetFinding) -> tuple[str | int | None, ...]:
    held = item.finding
    return (
        item.set_id, held.rule, held.severity, held.file or None, held.row, held.column, held.value,
        held.reason, held.next_step, item.waived,
    )  # fmt: skip
