"""Frames out of the database and into it, by Arrow's C interface.

The database's own ways load pyarrow, which takes as long as making several tables of a small study.
"""

from __future__ import annotations

from itertools import groupby
from operator import itemgetter
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    import duckdb
    import polars as pl

    Columns = Mapping[str, Sequence[Any]]


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


def parts_of(frame: pl.DataFrame, key: Sequence[str]) -> Iterator[tuple[tuple[str, ...], Columns]]:
    """Give the rows of each key as columns, for many parts of a few rows each.

    To cut a frame into frames, and ask each for a few things, takes ten times as long.

    Args:
        frame: The rows; those of one key follow each other.
        key: Columns of text.
    """
    columns = frame.to_dict(as_series=False)
    keys = zip(*(columns[name] for name in key), strict=True)
    for values, places in groupby(enumerate(keys), key=itemgetter(1)):
        taken = [place for place, _ in places]
        yield values, {name: column[taken[0] : taken[-1] + 1] for name, column in columns.items()}


def as_stream(frame: pl.DataFrame) -> object:
    """Give what a connection can register; a column without a type becomes one of whole numbers."""
    import polars as pl
    from polars import selectors

    return _Stream(frame.with_columns(selectors.by_dtype(pl.Null).cast(pl.Int32)))
