"""A release as its generated files see it: tables, design, meta data."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.tables.frames import as_frame

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb
    import polars as pl

    from rigledger.contract.model import Contract
    from rigledger.release.meta import ReleaseMeta
    from rigledger.release.published import Published
    from rigledger.study.model import Design


@dataclass(frozen=True, slots=True)
class ReleaseView:
    """Everything that a generated file of a release may be made from.

    Attributes:
        con: Connection with the source and derived tables, ``changes`` and ``findings``.
        design: The design as published.
        contract: The contract.
        meta: What the release says of itself.
        published: The source and derived tables.
        suite: Expectations, as in quality/expectations.json.
        results: Their results, as in quality/results.json.
    """

    con: duckdb.DuckDBPyConnection
    design: Design
    contract: Contract
    meta: ReleaseMeta
    published: tuple[Published, ...]
    suite: Mapping[str, Any]
    results: Mapping[str, Any]

    @property
    def name(self) -> str:
        """Name under which this version is kept, ``study-1.0.0``."""
        return f"{self.design.study}-{self.meta.version}"

    def rows(self, query: str) -> list[dict[str, Any]]:
        """Give the rows of a query as dictionaries."""
        cursor = self.con.execute(query)
        names = [column[0] for column in cursor.description or ()]
        return [dict(zip(names, row, strict=True)) for row in cursor.fetchall()]

    def frame(self, query: str) -> pl.DataFrame:
        """Give the rows of a query as a frame, for tables of very many rows."""
        return as_frame(self.con, query)

    def has(self, table: str) -> bool:
        """Say whether a table is published."""
        return any(held.table.name == table for held in self.published)

    def licences(self) -> list[str]:
        """List the licences of the numbers: the study's, then further ones of its sets."""
        rows = self.con.execute(
            "SELECT DISTINCT licence FROM sets WHERE state = 'admitted' ORDER BY licence"
        ).fetchall()
        return list(dict.fromkeys([self.design.licence, *(str(held) for (held,) in rows)]))
