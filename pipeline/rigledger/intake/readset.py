"""Reads a handed-in set as text: result-set.toml and tables, or one workbook."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import PurePath
from typing import TYPE_CHECKING

from rigledger.intake.csv_read import may_be_long, read_csv_table
from rigledger.intake.file_names import FROM_NAMES, named_runs
from rigledger.intake.headers import missing_columns
from rigledger.intake.manifest import MANIFEST, Manifest, read_manifest
from rigledger.intake.parquet_read import read_parquet_table
from rigledger.intake.texttable import TextTable, keep, spool
from rigledger.intake.views import make_view
from rigledger.intake.workbook import Workbook, open_workbook, read_set_sheet, read_sheet

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Contract, Table
    from rigledger.intake.log import FindingLog
    from rigledger.side import Side

TABLES = ("set", "rigs", "sessions", "runs", "platforms", "cards")
"""Handed-in tables in the order in which they are read and checked."""

_FEW = 100
_KINDS = (".csv", ".parquet", ".xlsx")


@dataclass(frozen=True, slots=True)
class TextSet:
    """A handed-in set as text.

    Attributes:
        manifest: What result-set.toml (or the sheet ``set``) says.
        tables: The tables by name; those that can't be read are missing.
        present: For each table the columns that hold something.
        names: The captures whose names told the runs, in the order of the rows; empty where the
            set has a runs table.
    """

    manifest: Manifest
    tables: dict[str, TextTable]
    present: dict[str, tuple[str, ...]]
    names: tuple[str, ...] = ()


def wide_tables(contract: Contract) -> dict[str, Table]:
    """Give the handed-in tables with their metric and fact columns."""
    return {name: contract.wide("handed_in", name) for name in TABLES}


def read_set(
    con: duckdb.DuckDBPyConnection,
    folder: Path,
    files: Sequence[str],
    log: FindingLog,
    scratch: Path,
    *,
    typed: bool = False,
    side: Side | None = None,
) -> TextSet:
    """Read a set as text.

    Args:
        con: A database with the schema ``intake``; gets ``intake.text_<table>``.
        folder: The set's folder.
        files: Its files as the gate lists them.
        log: Takes the findings.
        scratch: Folder of ours for spooled tables.
        typed: Whether a long table may be read straight into types, with the text of those rows
            alone that need it; then ``intake.text_<table>`` has only these.
        side: Where work on a long set is done beside the reading.

    Returns:
        The set; tables that can't be read are left out, with a finding each.
    """
    reader = _SetReader(con, folder, files, log, scratch, typed=typed, side=side)
    manifest = reader.manifest()
    if manifest is None:
        return TextSet(Manifest(), {}, {})
    tables = reader.tables_of(manifest)
    present = {}
    for name, held in tables.items():
        table = reader.tables[name]
        present[name] = make_view(con, table, held, manifest, log)
        missing_columns(table, present[name], log, file=held.file, row=1, meant=held.meant)
    _state_decimals_everywhere(log)
    return TextSet(manifest, tables, present, reader.names)


def _state_decimals_everywhere(log: FindingLog) -> None:
    """Give every file's advice on delimiters the line on decimals that one of them needs.

    The lines of [files] hold for all files of a set, also for those that have no decimals.
    """
    line = '\ndecimal = ","'
    rule = "delimiter_not_stated"
    if not any(item.rule == rule and item.next_step.endswith(line) for item in log.findings):
        return
    log.findings[:] = [
        replace(item, next_step=item.next_step + line)
        if item.rule == rule and not item.next_step.endswith(line)
        else item
        for item in log.findings
    ]


def _renamed(file: str, name: str) -> str:
    """Say how a file that seems to be a table comes to be read as one."""
    kind = PurePath(file).suffix.lower()
    if kind in _KINDS:
        return f"Rename {file!r} to {name}{kind}."
    return f"Save the table of {file!r} as {name}.csv or {name}.xlsx."


class _SetReader:
    """Finds the file of each table and reads it."""

    def __init__(
        self,
        con: duckdb.DuckDBPyConnection,
        folder: Path,
        files: Sequence[str],
        log: FindingLog,
        scratch: Path,
        *,
        typed: bool = False,
        side: Side | None = None,
    ) -> None:
        self.con = con
        self.side = side
        self.typed = typed
        self.folder = folder
        self.files = files
        self.log = log
        self.scratch = scratch
        self.tables = wide_tables(log.contract)
        self.book: Workbook | None = None
        self.names: tuple[str, ...] = ()
        self.read: dict[str, TextTable] = {}

    def manifest(self) -> Manifest | None:
        if MANIFEST in self.files:
            return read_manifest(self.folder / MANIFEST, self.tables, self.log)
        books = [name for name in self.files if name.lower().endswith(".xlsx") and "/" not in name]
        tables = {f"{name}{kind}" for name in TABLES for kind in _KINDS}
        # A whole kit may be saved as runs.xlsx: it is one table of several only beside the others.
        single = [name for name in self.files if name.lower() in tables]
        if len(books) == 1 and single in ([], books):
            self.book = open_workbook(self.folder / books[0], self.log)
            return read_set_sheet(self.book, self.tables["set"], self.log) if self.book else None
        reason = f"the set has no {MANIFEST}, which says whose it is and for which study"
        self.log.add("manifest_missing", reason)
        return None

    def tables_of(self, manifest: Manifest) -> dict[str, TextTable]:
        for name in TABLES:
            if held := self.table(name, manifest):
                self.read[name] = held
        return self.read

    def table(self, name: str, manifest: Manifest) -> TextTable | None:
        if name == "set":
            return self._rows("set", manifest.file, [manifest.set])
        if self.book is not None:
            return read_sheet(self.con, self.book, self.tables[name], self.log, self.scratch)
        path = self._file_of(name)
        proposed = manifest.proposed.get(name)
        if path is None and proposed:
            return self._rows(name, manifest.file, proposed)
        if path is None and name == "runs" and "pattern" in manifest.captures:
            return self._named(manifest)
        if path is None:
            if not self.tables[name].optional:
                self._missing(name)
            return None
        return self._read(path, self.tables[name], manifest)

    def _missing(self, name: str) -> None:
        """Say that a table is missing, and which file may have been meant."""
        like = [
            file
            for file in self.files
            if name.removesuffix("s") in PurePath(file).stem.lower() and "/" not in file
        ]
        step = _renamed(like[0], name) if len(like) == 1 else None
        reason = f"the set has no {name}.csv"
        self.log.add("table_missing", reason, file=f"{name}.csv", next_step=step)

    def _named(self, manifest: Manifest) -> TextTable | None:
        """Take the runs from the names of the captures."""
        taken = {MANIFEST, *(f"{name}{kind}" for name in TABLES for kind in _KINDS)}
        files = [file for file in self.files if file.lower() not in taken]
        held = named_runs(files, manifest, self._only(manifest), self.log)
        if held is None:
            return None
        self.names = held.names
        return self._rows("runs", FROM_NAMES, held.rows)

    def _only(self, manifest: Manifest) -> dict[str, str]:
        """Give the rig and the session of a set that has one alone."""
        only: dict[str, str] = {}
        for name in ("rig", "session"):
            table = self.read.get(f"{name}s")
            if name in manifest.all_sessions and name == "session":
                only[name] = manifest.all_sessions[name]
            if table is None or name not in table.columns:
                continue
            query = f"SELECT DISTINCT {name} FROM {table.relation} WHERE {name} <> '' LIMIT 2"
            found = self.con.execute(query).fetchall()
            if len(found) == 1:
                only[name] = found[0][0]
        return only

    def _known(self) -> dict[str, list[str]]:
        """Give the rigs and sessions that the set names, which are many in a long table of runs."""
        known: dict[str, list[str]] = {}
        for name in ("rig", "session"):
            table = self.read.get(f"{name}s")
            if table is not None and name in table.columns:
                query = f"SELECT DISTINCT {name} FROM {table.relation} WHERE {name} <> ''"
                known[name] = [word for (word,) in self.con.execute(query).fetchall()]
        return known

    def _file_of(self, name: str) -> Path | None:
        found = [
            file for file in self.files if file.lower() in {f"{name}{kind}" for kind in _KINDS}
        ]
        if len(found) > 1:
            reason = f"the table {name} is handed in more than once: {', '.join(found)}"
            self.log.add("table_twice", reason, file=found[1])
        return self.folder / found[0] if found else None

    def _read(self, path: Path, table: Table, manifest: Manifest) -> TextTable | None:
        kind = path.suffix.lower()
        if kind == ".parquet":
            return read_parquet_table(self.con, path, table, self.log)
        if kind == ".csv":
            known = self._known() if self.typed and may_be_long(path) else None
            return read_csv_table(
                self.con, path, table, manifest, self.log,
                scratch=self.scratch, known=known, side=self.side,
            )  # fmt: skip
        book = open_workbook(path, self.log)
        if book is None:
            return None
        return read_sheet(self.con, book, table, self.log, self.scratch)

    def _rows(self, name: str, file: str, rows: list[dict[str, str]]) -> TextTable:
        columns = tuple(dict.fromkeys(key for row in rows for key in row))
        lines: list[list[str | int | None]] = [
            [row, *(held.get(key, "") for key in columns)] for row, held in enumerate(rows, 1)
        ]
        if len(lines) <= _FEW:
            count = keep(self.con, name, columns, lines)
        else:
            count = spool(self.con, self.scratch / f"rows-{name}.csv", name, columns, lines)
        return TextTable(name, file, f"intake.raw_{name}", columns, count)
