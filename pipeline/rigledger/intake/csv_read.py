"""Reads a handed-in CSV file as text with physical rows.

The database reads plain files at scan speed. A file in which it meets anything odd (a ragged row, a
quote that swallows rows, a line break in a cell) is read again row by row, so that every oddity
gets its physical row.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from typing import TYPE_CHECKING

import duckdb

from rigledger.contract.sql_text import identifier, text
from rigledger.intake.csv_rows import Shape, sound_rows
from rigledger.intake.csv_scan import UTF_8, plain_file, scan
from rigledger.intake.headers import known_names, match_header
from rigledger.intake.limits import limit, named
from rigledger.intake.log import FindingLog
from rigledger.intake.plain_read import read_plain
from rigledger.intake.texttable import LONG, TextTable, spool

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from pathlib import Path

    from rigledger.contract.model import Table
    from rigledger.intake.csv_scan import Scan
    from rigledger.intake.manifest import Manifest
    from rigledger.intake.plain_read import PlainTable
    from rigledger.side import Side

_DELIMITERS = (",", ";", "\t", "|")
_LONG_FILE = 4_000_000  # bytes
_SHORT_FILE = 100_000
# Bytes; a seventh quicker on two processors than the database's own choice. No line may be longer.
_BUFFER = 12_000_000
_ENOUGH = 2  # columns that a row must name more of to be a header
_NAMES = {";": '";"', "\t": '"\\t"', "|": '"|"', ",": '","'}


def read_csv_table(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    table: Table,
    manifest: Manifest,
    log: FindingLog,
    *,
    scratch: Path,
    known: Mapping[str, Collection[str]] | None = None,
    side: Side | None = None,
) -> TextTable | None:
    """Read one CSV file into ``intake.raw_<table>``.

    Args:
        con: The database.
        path: The file.
        table: The wide table it holds.
        manifest: States delimiter, decimal mark and encoding.
        log: Takes the findings.
        scratch: Folder of ours.
        known: Words that a column may hold, as other tables of the set have them, where a long
            file may be read straight into types; None where its text is wanted.
        side: Where the bytes of a long file are looked at while it is read already.

    Returns:
        The table as text; None where the file as a whole can't be read.
    """
    into = scratch / f"plain-{table.name}.csv"
    ahead, seen = None, None
    if known is not None and side is not None and _may_be_read_ahead(path, manifest):
        looked = side.begin(lambda _: scan(path))
        quiet = FindingLog(log.contract)  # what is wrong with the header is said below
        ahead, known = _ahead(con, path, table, manifest, known, log=quiet, scratch=scratch), None
        seen = looked.result()
    plain = plain_file(path, manifest.encoding, into, log, path.name, seen=seen)
    read = None
    if plain is not None:
        read = _reader(con, plain[0], table, manifest, log, file=path.name, scratch=scratch)
    if plain is None or read is None:
        _drop(con, ahead)
        return None
    return read.fast(plain[1], known, ahead) or read.slow()


def may_be_long(path: Path) -> bool:
    """Whether a file has bytes enough for the lines of a long table."""
    return path.stat().st_size > LONG


def _may_be_read_ahead(path: Path, manifest: Manifest) -> bool:
    """Whether a file is long, and to be read as it is if nothing is wrong with its bytes."""
    return manifest.encoding in UTF_8 and path.stat().st_size > _LONG_FILE


def _ahead(
    con: duckdb.DuckDBPyConnection,
    path: Path,
    table: Table,
    manifest: Manifest,
    known: Mapping[str, Collection[str]],
    *,
    log: FindingLog,
    scratch: Path,
) -> PlainTable | None:
    """Read a file straight into types while its bytes are still being looked at.

    None where it is better read as text, or where anything is wrong with it.
    """
    try:
        read = _reader(con, path, table, manifest, log, file=path.name, scratch=scratch)
        return read.typed(known) if read else None
    except (UnicodeDecodeError, csv.Error, duckdb.Error):
        return None


def _reader(
    con: duckdb.DuckDBPyConnection,
    plain: Path,
    table: Table,
    manifest: Manifest,
    log: FindingLog,
    *,
    file: str,
    scratch: Path,
) -> _Reader | None:
    """Give the reader of a file whose header is found; None where it is not."""
    header = _header(plain, table, manifest, log, file)
    if header is None:
        return None
    matched = match_header(header, table, log, file=file, row=1)
    shape = Shape(file, manifest.delimiter, header, matched.places)
    return _Reader(con, plain, table, shape, matched.meant, manifest, log, scratch)


def _source(path: Path, shape: Shape) -> str:
    """Give the query of a file's cells as text, by their places."""
    names = (f"c{place}" for place in range(len(shape.header)))
    columns = "{" + ", ".join(f"'{name}': 'VARCHAR'" for name in names) + "}"
    return (
        f"read_csv({text(str(path))},"
        f" header=true, auto_detect=false, delim={text(shape.delimiter)}, quote='\"', escape='\"',"
        f" columns={columns}, encoding='utf-8', strict_mode=true,"
        f" buffer_size={_BUFFER})"
    )


def _drop(con: duckdb.DuckDBPyConnection, held: PlainTable | None) -> None:
    if held is not None:
        con.execute(f"DROP TABLE {held.relation}")


def _header(
    plain: Path, table: Table, manifest: Manifest, log: FindingLog, file: str
) -> list[str] | None:
    with plain.open("r", encoding="utf-8-sig", newline="") as stream:
        line = stream.readline(1_000_000)
        following = [stream.readline(100_000) for _ in range(5)]
    header = _cells(line, manifest.delimiter)
    if known_names(header, table) > len(header) // 2 or known_names(header, table) > _ENOUGH:
        return header if _few_enough(header, log, file) else None
    other = max(_DELIMITERS, key=lambda mark: known_names(_cells(line, mark), table))
    if known_names(_cells(line, other), table) > known_names(header, table):
        _say_delimiter(other, following, log, file)
    elif known_names(header, table) == 0:
        _say_no_header(line, following, table, log, file)
    else:
        return header
    return None


def _say_no_header(
    line: str, following: list[str], table: Table, log: FindingLog, file: str
) -> None:
    """Say that the first row is no header, and where the header is if it stands further down."""
    reason, step = f"the first row names no column of {table.name}", None
    for number, further in enumerate(following, start=2):
        if any(known_names(_cells(further, mark), table) > _ENOUGH for mark in _DELIMITERS):
            reason = f"the first row is no header; row {number} names the columns of {table.name}"
            above = "row 1" if number == 2 else f"rows 1 to {number - 1}"
            step = f"Remove {above}, so that the header comes first."
            break
    value = line.strip()[:200]
    log.add("header_missing", reason, file=file, row=1, value=value, next_step=step)


def _cells(line: str, delimiter: str) -> list[str]:
    return next(csv.reader([line], delimiter=delimiter), [])


def _few_enough(header: list[str], log: FindingLog, file: str) -> bool:
    if len(header) <= limit("tables.columns"):
        return True
    reason = f"the header has {len(header)} columns, beyond {named('tables.columns')}"
    log.add("table_too_large", reason, file=file, row=1)
    return False


def _say_delimiter(mark: str, following: list[str], log: FindingLog, file: str) -> None:
    cells = [cell for line in following for cell in _cells(line, mark)]
    commas = any(cell.replace(",", "", 1).lstrip("-").isdigit() and "," in cell for cell in cells)
    decimal = '\ndecimal = ","' if commas and mark != "," else ""
    step = f"Add to result-set.toml:\n[files]\ndelimiter = {_NAMES[mark]}{decimal}"
    reason = f"the cells are separated by {_NAMES[mark]}, which result-set.toml doesn't state"
    log.add("delimiter_not_stated", reason, file=file, row=1, next_step=step)


@dataclass(frozen=True)
class _Reader:
    """One file, read by the database, or row by row where that meets something odd."""

    con: duckdb.DuckDBPyConnection
    plain: Path
    table: Table
    shape: Shape
    meant: frozenset[str]
    manifest: Manifest
    log: FindingLog
    scratch: Path

    @property
    def raw(self) -> str:
        return f"intake.{identifier('raw_' + self.table.name)}"

    def fast(
        self,
        seen: Scan,
        known: Mapping[str, Collection[str]] | None,
        ahead: PlainTable | None = None,
    ) -> TextTable | None:
        """Let the database read the file; None where it met anything odd.

        Args:
            seen: What the bytes of the file say.
            known: Words of other tables, where the file may be read straight into types.
            ahead: The file where it was so already.
        """
        # A bare carriage return in a cell throws the database's reader off its track.
        if seen.bare_returns:
            _drop(self.con, ahead)
            return None
        if seen.lines <= LONG:
            _drop(self.con, ahead)
            known = ahead = None
        try:
            held = ahead if known is None else self.typed(known)
            return (self._taken(held, seen) if held else None) or self._scanned(seen)
        except (duckdb.InvalidInputException, duckdb.ConversionException):
            return None

    def typed(self, known: Mapping[str, Collection[str]]) -> PlainTable | None:
        """Read the file straight into types; None where it is better read as text."""
        return read_plain(
            self.con,
            self.plain,
            _source(self.plain, self.shape),
            table=self.table,
            shape=self.shape,
            manifest=self.manifest,
            known=known,
            metrics=self.log.contract.metrics,
        )

    def _taken(self, held: PlainTable, seen: Scan) -> TextTable | None:
        """Take a table that was read straight into types; None where rows were lost."""
        rows = self._count(held.relation)
        self.con.execute(f"CREATE TABLE {self.raw} AS {held.text()}")
        if rows + 1 != seen.lines or self._blank_rows(self.raw):
            self.con.execute(f"DROP TABLE {self.raw}; DROP TABLE {held.relation}")
            return None
        return self._made(self.raw, rows, whole=True, plain=held)

    def _scanned(self, seen: Scan) -> TextTable | None:
        chosen = ", ".join(
            f"c{place} AS {identifier(name)}" for name, place in self.shape.places.items()
        )
        unnamed = " OR ".join(
            f"c{n} <> ''" for n, cell in enumerate(self.shape.header) if not cell.strip()
        )
        beyond = f", coalesce({unnamed}, false) AS _beyond" if unnamed else ""
        source = _source(self.plain, self.shape)
        counted = self.con.execute(
            f"CREATE TABLE {self.raw} AS SELECT {chosen}{beyond} FROM {source}"
        ).fetchone()
        rows = int(counted[0]) if counted else 0
        odd = rows + 1 != seen.lines or unnamed
        if odd or (not self._surely_filled(seen) and self._blank_rows(self.raw)):
            self.con.execute(f"DROP TABLE {self.raw}")
            return None
        return self._made(f"(SELECT rowid + 2 AS _row, * FROM {self.raw})", rows, whole=True)

    def slow(self) -> TextTable:
        """Read the file row by row; every row that is not sound becomes a finding."""
        before = self.log.errors
        rows = sound_rows(self.plain, self.shape, self.log)
        spooled = self.scratch / f"rows-{self.table.name}.csv"
        count = spool(self.con, spooled, self.table.name, tuple(self.shape.places), rows)
        return self._made(self.raw, count, whole=self.log.errors == before)

    def _count(self, relation: str) -> int:
        found = self.con.execute(f"SELECT count(*) FROM {relation}").fetchone()
        return int(found[0]) if found else 0

    def _surely_filled(self, seen: Scan) -> bool:
        """Whether each line of a short file has something in it, as is seen soonest here."""
        if seen.size > _SHORT_FILE or len(self.shape.places) < len(self.shape.header):
            return False
        data = self.plain.read_bytes()
        beside = self.shape.delimiter.encode() + b"\r"
        return b'"' not in data and all(line.strip(beside) for line in data.splitlines())

    def _blank_rows(self, relation: str) -> int:
        cells = ", ".join(identifier(name) for name in self.shape.places)
        return self._count(f"(SELECT 1 FROM {relation} WHERE coalesce({cells}, '') = '')")

    def _made(
        self, relation: str, rows: int, *, whole: bool, plain: PlainTable | None = None
    ) -> TextTable:
        if rows > limit("tables.rows"):
            reason = f"the table has {rows} rows, beyond {named('tables.rows')}"
            self.log.add("table_too_large", reason, file=self.shape.file)
        if rows == 0 and whole:
            self.log.add(
                "no_rows", "the file has a header and no rows", file=self.shape.file, row=1
            )
        return TextTable(
            self.table.name,
            self.shape.file,
            relation,
            tuple(self.shape.places),
            rows,
            whole,
            self.manifest.decimal,
            self.meant,
            plain,
        )
