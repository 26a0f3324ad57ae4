"""Speed of the compiled check: against DuckDB's own typed read, and against frictionless.

A table of runs with 15 columns, clean and with 1 % of its rows spoiled at known places. Timed in
one run: `create table as select` of the typed CSV; what intake does of it, to read the file and to
check types and keys; the compiled statements by themselves, on a table that holds all as text, and
what reading and casting that takes; frictionless on the same rows, schema and key. Stated: to read
and check takes at most 2.5 times DuckDB's typed read, and is at least 15 times as fast as
frictionless. Exits 1 if a figure falls short, or if what is found, by intake or by the compiled
statements, is not what was planted.
"""

from __future__ import annotations

import sys
import tempfile
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
from results import Figure, Results, asked, seconds

from rigledger.contract import load_contract
from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.compile_sql import compile_checks, typed_select
from rigledger.contract.descriptor import resource
from rigledger.intake.csv_read import read_csv_table
from rigledger.intake.database import make_schemas
from rigledger.intake.found import Found
from rigledger.intake.log import FindingLog
from rigledger.intake.manifest import Manifest
from rigledger.intake.readset import TextSet
from rigledger.intake.values import check_values
from rigledger.intake.views import make_view

if TYPE_CHECKING:
    from rigledger.contract import Table

MOST_TIMES_DUCKDB, LEAST_TIMES_FRICTIONLESS = 2.5, 15.0
COLUMNS = {
    "rig": "'p' || (i // 200000 + 1) || '-fast'",
    "session": "(i // 200) % 1000 + 1",
    "run": "lpad((i % 200)::varchar, 3, '0')",
    "workload": "['harbour-dawn', 'salt-flats', 'old-mill', 'night-train'][(hash(i) % 4)::int + 1]",
    "title_build": "'1.0.' || hash(i) % 5",
    "resolution": "['1920x1080', '2560x1440', '3840x2160'][(hash(i, 1) % 3)::int + 1]",
    "level": "['x8', 'x16'][(i % 2)::int + 1]",
    "level_state": "'effective'",
    "level_check": "'link status read-out under load'",
    "role": "'measured'",
    "pass": "i % 3 + 1",
    "started_at": "strftime(timestamp '2026-10-05' + to_seconds(i * 61), '%Y-%m-%dT%H:%M:%SZ')",
    "duration_s": "printf('%.3f', 59.5 + hash(i, 2) % 1000 / 1000)",
    "average_fps": "printf('%.2f', 90 + hash(i, 3) % 9000 / 100)",
    "low_1pct_rank_fps": "printf('%.2f', 60 + hash(i, 4) % 3000 / 100)",
}
SPOILS = [
    ("average_fps", "replace(average_fps, '.', ',')", "type_spelling"),
    ("pass", "'0'", "out_of_bounds"),
    ("resolution", "'1080p'", "pattern_mismatch"),
    ("role", "'Measured'", "not_in_vocabulary"),
    ("level", "''", "required_missing"),
]


def write_rows(con: duckdb.DuckDBPyConnection, rows: int, folder: Path) -> None:
    """Write clean.csv and spoiled.csv; the table ``planted`` says what was spoiled where."""
    made = ", ".join(f'({made})::varchar as "{name}"' for name, made in COLUMNS.items())
    con.execute(f"create table clean as select i + 2 as _row, {made} from range({rows}) r(i)")
    kind = f"case when _row % 100 = 7 then (_row // 100) % {len(SPOILS)} end"
    con.execute(f"create table marked as select *, {kind} as spoil from clean")
    spoiled = ", ".join(
        f'case when spoil = {number} then {wrong} else "{column}" end as "{column}"'
        for number, (column, wrong, _) in enumerate(SPOILS)
    )
    con.execute(f"create table spoiled as select * exclude (spoil) replace ({spoiled}) from marked")
    planted = " union all ".join(
        f"select '{rule}' as rule, _row, '{column}' as column_name from marked"
        f" where spoil = {number}"
        for number, (column, _, rule) in enumerate(SPOILS)
    )
    con.execute(f"create table planted as {planted}")
    for name in ("clean", "spoiled"):
        rows_in_order = f"select * exclude (_row) from {name} order by _row"
        con.execute(f"copy ({rows_in_order}) to '{folder / f'{name}.csv'}' (header)")


def read_csv(path: Path, types: dict[str, str]) -> str:
    """Give the reading of a CSV file with stated types, without any guessing."""
    return (
        f"read_csv('{path}', header = true, auto_detect = false, delim = ',', quote = '\"',"
        f" nullstr = '', strict_mode = true, columns = {types})"
    )


def read_text(con: duckdb.DuckDBPyConnection, path: Path) -> None:
    """Read a CSV file as text with physical rows, as the checks want it."""
    source = read_csv(path, dict.fromkeys(COLUMNS, "VARCHAR"))
    con.execute(
        f"create or replace table held as select row_number() over () + 1 as _row, * from {source}"
    )


def check(con: duckdb.DuckDBPyConnection, table: Table) -> None:
    """Check the text table and keep what is found."""
    query = compile_checks(table, relation="held", columns=COLUMNS)
    con.execute(f"create or replace table found as {query}")


def intake(path: Path, table: Table) -> list[tuple[str, int | None, str | None]]:
    """Read a file and check types and keys as the check of a set does; gives what is found."""
    log, manifest = FindingLog(load_contract()), Manifest()
    sessions = [str(number) for number in range(1, 1001)]  # as the set's other tables name them
    known = {"rig": [f"p{number}-fast" for number in range(1, 6)], "session": sessions}
    with duckdb.connect() as con, tempfile.TemporaryDirectory() as name:
        make_schemas(con)
        scratch = Path(name)
        read = read_csv_table(con, path, table, manifest, log, scratch=scratch, known=known)
        if read is None:
            raise SystemExit("the file can't be read")
        present = make_view(con, table, read, manifest, log)
        held = TextSet(manifest, {"runs": read}, {"runs": present})
        check_values(con, held, table, Found(con), log, names={})
    return sorted((found.rule, found.row, found.column) for found in log.findings)


def planted_and_nothing_else(con: duckdb.DuckDBPyConnection, folder: Path, table: Table) -> bool:
    """Whether the findings are the planted errors, by rule, row and column."""
    planted = sorted(con.execute("select rule, _row, column_name from planted").fetchall())
    if intake(folder / "clean.csv", table) or intake(folder / "spoiled.csv", table) != planted:
        return False
    found = "select rule, _row, column_name from found"
    differing = f"(({found}) except from planted) union all (from planted except ({found}))"
    return con.execute(f"select count(*) from ({differing})").fetchall() == [(0,)]


def frictionless(path: Path, table: Table, rows: int) -> bool:
    """Validate the first rows of the clean file with the same schema and key."""
    # A module here is called like one of the standard library, which frictionless needs.
    here = Path(__file__).resolve().parent
    sys.path[:] = [entry for entry in sys.path if Path(entry or ".").resolve() != here]
    from frictionless import Resource

    described = resource(table, path=path.name, sha256="0" * 64, size=path.stat().st_size)
    del described["hash"], described["bytes"]
    held = Resource.from_descriptor(described, basepath=str(path.parent))
    return bool(held.validate(limit_rows=rows).valid)


def timings(
    con: duckdb.DuckDBPyConnection, folder: Path, table: Table, times: int
) -> dict[str, float]:
    """Time each job on the clean and on the spoiled file, in seconds."""
    types = {field.name: SQL_TYPES[field.type] for field in table.fields}
    clean, spoiled = folder / "clean.csv", folder / "spoiled.csv"
    typed = f"create or replace table typed as from {read_csv(clean, types)}"
    taken = {"DuckDB, typed read": seconds(lambda: con.execute(typed), times)}
    taken["read and check, clean"] = seconds(lambda: intake(clean, table), times)
    taken["read and check, 1 % spoiled"] = seconds(lambda: intake(spoiled, table), times)
    taken["read as text"] = seconds(lambda: read_text(con, clean), times)
    taken["check, clean"] = seconds(lambda: check(con, table), times)
    cast = f"create or replace table typed as {typed_select(table, 'held', sound=COLUMNS)}"
    taken["cast of sound columns"] = seconds(lambda: con.execute(cast), times)
    read_text(con, spoiled)
    taken["check, 1 % spoiled"] = seconds(lambda: check(con, table), times)
    return taken


def main() -> int:
    """Print the figures beside the stated ones."""
    given = asked(__doc__, "fewer rows, and a tenth of them for frictionless")
    results = Results("check", given.quick)
    rows, judged = (400_000, 40_000) if given.quick else (1_000_000, 1_000_000)
    whole = load_contract().wide("handed_in", "runs", ("average_fps", "low_1pct_rank_fps"))
    fields = {field.name: field for field in whole.fields}
    table = replace(whole, fields=tuple(fields[name] for name in COLUMNS), foreign_keys=())
    with tempfile.TemporaryDirectory() as name, duckdb.connect() as con:
        folder = Path(name)
        write_rows(con, rows, folder)
        taken = timings(con, folder, table, times=5)
        right = planted_and_nothing_else(con, folder, table)
        slow = seconds(lambda: frictionless(folder / "clean.csv", table, judged), 1)
        taken[f"frictionless ({judged:,} rows)"] = slow
    print(f"{rows:,} rows of {len(COLUMNS)} columns")
    for label, spent in taken.items():
        print(f"  {label:28} {spent:7.2f} s")
    results.report("s", taken)
    report(results, taken, slow * rows / judged, right=right)
    return results.close(given.json)


def report(
    results: Results, taken: dict[str, float], frictionless_s: float, *, right: bool
) -> None:
    """Print the ratios beside what is stated of them."""
    ours = max(taken["read and check, clean"], taken["read and check, 1 % spoiled"])
    to_duckdb, to_frictionless = ours / taken["DuckDB, typed read"], frictionless_s / ours
    name = "read and check / DuckDB's typed read"
    results.keep(Figure(name, to_duckdb, "x", MOST_TIMES_DUCKDB))
    print(f"{name}: {to_duckdb:.2f} (stated: at most 2.5)")
    name = "frictionless / read and check"
    results.keep(Figure(name, to_frictionless, "x", least=LEAST_TIMES_FRICTIONLESS))
    print(f"{name}: {to_frictionless:.1f} (stated: at least 15)")
    name = "the planted errors were found, and nothing else"
    results.keep(Figure(name, float(right), "yes", least=1))
    print(f"{name}: {'yes' if right else 'NO'}")


if __name__ == "__main__":
    sys.exit(main())
