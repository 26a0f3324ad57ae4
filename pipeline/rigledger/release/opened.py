"""A release opened for reading: each table typed as the release itself describes it."""

from __future__ import annotations

import tempfile
import weakref
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from rigledger.contract import load_contract
from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.sql_text import literal
from rigledger.database import connect
from rigledger.errors import near_names
from rigledger.files import sha256_of
from rigledger.release.archive import open_release
from rigledger.release.carried import (
    Reading,
    carry_over,
    reading_of,
    refuse_newer,
    stated_contract,
)
from rigledger.release.errors import RecheckError
from rigledger.release.folder import SUMS
from rigledger.release.integrity import read_descriptor, sums_differences
from rigledger.tabular import DATETIME, file_literal

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    import duckdb
    import pandas as pd
    import polars as pl
    import pyarrow as pa


@dataclass(frozen=True, slots=True)
class OpenedTable:
    """A table of a release.

    Attributes:
        name: Its name.
        path: Its CSV file, whose bytes the release vouches for.
        schema: Its Table Schema: columns, types, units, keys, in words.
    """

    name: str
    path: Path
    schema: Mapping[str, Any]

    @property
    def columns(self) -> tuple[str, ...]:
        """Names of its columns."""
        return tuple(field["name"] for field in self.schema["fields"])

    def duckdb(self, con: duckdb.DuckDBPyConnection | None = None) -> duckdb.DuckDBPyRelation:
        """Give it as a DuckDB relation.

        Args:
            con: The connection it belongs to, so that it can be joined; None for one of its own.
        """
        columns = ", ".join(
            f"{literal(field['name'])}: {literal(SQL_TYPES[field['type']])}"
            for field in self.schema["fields"]
        )
        return (con or connect()).sql(
            f"FROM read_csv({file_literal(self.path)}, auto_detect = false, header = true, "
            f"delim = ',', quote = '\"', escape = '\"', nullstr = '', encoding = 'utf-8', "
            f"timestampformat = {literal(DATETIME)}, columns = {{{columns}}})"
        )

    def rows(self) -> list[dict[str, Any]]:
        """Give it as dictionaries of Python values, one a row."""
        return [dict(zip(self.columns, row, strict=True)) for row in _read(self).fetchall()]

    def arrow(self) -> pa.Table:
        """Give it as a pyarrow table.

        Raises:
            ImportError: pyarrow is not installed.
        """
        return _read(self).to_arrow_table()

    def polars(self) -> pl.DataFrame:
        """Give it as a Polars frame.

        Raises:
            ImportError: polars or pyarrow is not installed.
        """
        frame: pl.DataFrame = _read(self).pl()
        return frame

    def pandas(self) -> pd.DataFrame:
        """Give it as a pandas frame; whole numbers and truth values stay so where some are blank.

        Raises:
            ImportError: pandas or pyarrow is not installed.
        """
        import pandas as pd

        kept = {
            "integer": pd.Int64Dtype(), "boolean": pd.BooleanDtype(), "string": pd.StringDtype(),
        }  # fmt: skip
        types = {field["name"]: kept.get(field["type"]) for field in self.schema["fields"]}
        frame = self.arrow().to_pandas(integer_object_nulls=True)
        return frame.astype({name: kind for name, kind in types.items() if kind is not None})


@cache
def _started() -> duckdb.DuckDBPyConnection:
    """Start the database once for all tables: that takes longer than to read most of them."""
    return connect()


def _read(table: OpenedTable) -> duckdb.DuckDBPyRelation:
    con = _started().cursor()
    con.execute("SET enable_progress_bar = false")
    return table.duckdb(con)


class OpenedRelease:
    """A release whose tables can be read; also a context manager that tidies up after itself.

    Attributes:
        folder: Its folder, unpacked where it came as an archive.
        descriptor: Its datapackage.json.
        fingerprint: SHA-256 of its SHA256SUMS.
    """

    def __init__(self, path: Path, *, verify: bool) -> None:
        unpacked = tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True)
        self._tidy_up = weakref.finalize(self, unpacked.cleanup)
        self.folder = open_release(path, Path(unpacked.name))
        if verify:
            _refuse_altered(self.folder)
        self.descriptor = read_descriptor(self.folder)
        _refuse_unknown_types(self.descriptor, self.folder.name)
        self.fingerprint = sha256_of(self.folder / SUMS)
        self._tables = {
            item["name"]: OpenedTable(item["name"], self.folder / item["path"], item["schema"])
            for item in self.descriptor["resources"]
            if "schema" in item
        }

    @property
    def version(self) -> str:
        """Version of the release."""
        return str(self.descriptor["version"])

    @property
    def tables(self) -> tuple[str, ...]:
        """Names of its tables, as datapackage.json lists them."""
        return tuple(self._tables)

    def __getitem__(self, name: str) -> OpenedTable:
        """Give a table.

        Raises:
            RecheckError: There is no such table; the nearest names are offered.
        """
        if name not in self._tables:
            raise RecheckError(
                "the release has no such table", value=name,
                next_step=near_names(name, self._tables),
            )  # fmt: skip
        return self._tables[name]

    def __iter__(self) -> Iterator[str]:
        """List the names of its tables."""
        return iter(self._tables)

    def __len__(self) -> int:
        """Count its tables."""
        return len(self._tables)

    def duckdb(self, *, carried_over: bool = False) -> duckdb.DuckDBPyConnection:
        """Give a DuckDB connection in which each table has its own name.

        Args:
            carried_over: Whether the source tables of an older release get the columns and tables
                of this version's contract, in memory, as schema/migrations.toml says; else every
                table is a view of the release as it is.

        Raises:
            RecheckError: It states a contract that was never published, or holds another one.
            NewerContractError: It was written by a newer contract than this program knows.
        """
        con = connect()
        reading = self._reading() if carried_over else None
        for name, table in self._tables.items():
            relation = table.duckdb(con)
            if reading is None or not reading.is_older:
                relation.create_view(name)
            else:
                relation.create(name)
        if reading is not None:
            carry_over(con, reading)
        return con

    def _reading(self) -> Reading:
        reading = reading_of(self.folder, stated_contract(self.descriptor), load_contract())
        for problem in reading.problems:
            raise RecheckError(problem.says, file=problem.file, value=problem.recorded)
        return reading

    def close(self) -> None:
        """Remove what was unpacked; a release that came as a folder is left alone."""
        self._tidy_up()

    def __enter__(self) -> Self:
        """Give itself."""
        return self

    def __exit__(self, *_: object) -> None:
        """Tidy up."""
        self.close()

    def __repr__(self) -> str:
        """Name study, version and fingerprint."""
        name = f"{self.descriptor['name']}-{self.version}"
        return f"<release {name}, fingerprint {self.fingerprint}>"


def _refuse_unknown_types(descriptor: Mapping[str, Any], name: str) -> None:
    """Refuse a release with a column of a type that only a newer program can read."""
    types = {
        str(field.get("type"))
        for item in descriptor["resources"]
        for field in item.get("schema", {}).get("fields", ())
    }
    for unknown in sorted(types - SQL_TYPES.keys()):
        refuse_newer(descriptor, file=name)
        raise RecheckError("describes a column of a type that is not known", value=unknown)


def _refuse_altered(folder: Path) -> None:
    differences = sums_differences(folder)
    if differences:
        raise RecheckError(
            f"the release was altered: {differences[0].says}", file=differences[0].file,
            next_step="fetch it again; rigledger recheck names everything that differs",
        )  # fmt: skip
