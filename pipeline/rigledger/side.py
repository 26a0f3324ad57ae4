"""Does some work beside other work, where that saves waiting.

The database and the reading of files let other threads of the program run meanwhile.
"""

from __future__ import annotations

from concurrent.futures import Future, ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import duckdb

T = TypeVar("T")

_AT_ONCE = 2


@dataclass(frozen=True, slots=True)
class Side:
    """Where work can be begun that is waited for later.

    Attributes:
        con: The database.
        pool: Threads beside the main one; None where work is done at once.
    """

    con: duckdb.DuckDBPyConnection
    pool: ThreadPoolExecutor | None = None

    def begin(self, work: Callable[[duckdb.DuckDBPyConnection], T]) -> Future[T]:
        """Begin a piece of work; it is given the database. What is begun first is taken first."""
        if self.pool is not None:
            return self.pool.submit(_with_cursor, work, self.con.cursor())
        done: Future[T] = Future()
        done.set_result(work(self.con))
        return done


def _with_cursor(
    work: Callable[[duckdb.DuckDBPyConnection], T], cursor: duckdb.DuckDBPyConnection
) -> T:
    """Do a piece of work; an open cursor would keep the database after its connection is closed."""
    with cursor:
        return work(cursor)


@contextmanager
def beside(con: duckdb.DuckDBPyConnection, *, wanted: bool) -> Iterator[Side]:
    """Open a side for work; what was begun there ends before the side is closed.

    Args:
        con: The database.
        wanted: Whether threads are started; short work is sooner done than handed over.
    """
    if not wanted:
        yield Side(con)
        return
    with ThreadPoolExecutor(max_workers=_AT_ONCE, thread_name_prefix="rigledger") as pool:
        yield Side(con, pool)
