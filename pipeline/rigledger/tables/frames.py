"""Frames out of the database and into it, by Arrow's C interface.

The database's own ways load pyarrow, which takes as long as making several tables of a small study.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import duckdb
    import polars as pl


class _Stream:
    """A frame of which the database sees no more than that it gives a stream of rows."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self._frame = frame

    def __arrow_c_stream__(self, requested_schema: object | None = None) -> object:
        return self._frame.__arrow_c_stream__(requested_schema)


def as_frame(con: duckdb.DuckDBPyConnection, query: str) -> pl.DataFrame:
    """Run a query and give its rows."""
    import polars as pl

    return pl.DataFrame(con.sql(query))


def as_stream(frame: pl.DataFrame) -> object:
    """Give what a connection can register; a column without a type becomes one of whole numbers."""
    import polars as pl
    from polars import selectors

    return _Stream(frame.with_columns(selectors.by_dtype(pl.Null).cast(pl.Int32)))
