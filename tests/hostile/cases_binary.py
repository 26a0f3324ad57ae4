"""Workbooks and Parquet files: bombs, programs, entities, cells that a spreadsheet has changed."""

from __future__ import annotations

import datetime as dt
import zipfile
from typing import TYPE_CHECKING, Any

import duckdb
import xlsxwriter
from hostile_case import Case, break_name

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

    Edit = Callable[[Any, dict[str, Any]], None]


def workbook(path: Path, made: Any, edit: Edit | None = None) -> None:  # noqa: ANN401
    """Write a filled kit, all cells as text; ``edit`` may write over cells of its sheets."""
    with xlsxwriter.Workbook(str(path)) as book:
        sheets = {name: book.add_worksheet(name) for name in ("set", "rigs", "sessions", "runs")}
        keys = [line.split(" = ") for line in made.manifest.splitlines() if " = " in line]
        for number, (key, value) in enumerate(keys):
            sheets["set"].write_row(number, 0, [key, value.strip('"')])
        for name in ("rigs", "sessions", "runs"):
            rows = getattr(made, name)
            sheets[name].write_row(0, 0, list(rows[0]))
            for number, row in enumerate(rows, start=1):
                for column, text in enumerate(row.values()):
                    sheets[name].write_string(number, column, text)
        if edit:
            edit(book, sheets)


def edited(edit: Edit | None = None) -> Callable[[Path, Any], None]:
    return lambda path, made: workbook(path, made, edit)


def at(made_columns: str, name: str) -> int:
    return made_columns.split().index(name)


SESSIONS = (
    "rig session boot round started_on firmware_version firmware_date driver_version driver_date"
)
RUNS = (
    "rig session run workload title_build resolution level level_state level_check role reason pass"
    " average_fps low_1pct_rank_fps"
)


def put(sheet: str, columns: str, column: str, method: str, *values: Any) -> Edit:  # noqa: ANN401
    def edit(_: Any, sheets: dict[str, Any]) -> None:  # noqa: ANN401
        getattr(sheets[sheet], method)(1, at(columns, column), *values)

    return edit


def dated(sheet: str, columns: str, column: str) -> Edit:
    def edit(book: Any, sheets: dict[str, Any]) -> None:  # noqa: ANN401
        form = book.add_format({"num_format": "yyyy-mm-dd"})
        sheets[sheet].write_datetime(1, at(columns, column), dt.datetime(2026, 5, 12), form)

    return edit


def merged(book: Any, sheets: dict[str, Any]) -> None:  # noqa: ANN401
    bold = book.add_format({"bold": True})
    sheets["runs"].merge_range(0, 12, 0, 13, "average_fps", bold)


def repacked(path: Path, made: Any, parts: dict[str, bytes]) -> None:  # noqa: ANN401
    """Write the kit, then replace or add parts of its archive."""
    workbook(path, made)
    with zipfile.ZipFile(path) as old:
        held = {name: old.read(name) for name in old.namelist()}
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as new:
        for name, data in (held | parts).items():
            new.writestr(name, data)


def misnamed(path: Path, made: Any) -> None:  # noqa: ANN401
    """Write the kit, and break the name of the first part in its directory."""
    workbook(path, made)
    data = bytearray(path.read_bytes())
    break_name(data)
    path.write_bytes(bytes(data))


SHEET = "xl/worksheets/sheet4.xml"
ENTITIES = (
    b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY x "ha"><!ENTITY y "'
    + b"&x;" * 1000
    + b'"><!ENTITY z "'
    + b"&y;" * 1000
    + b'">]><worksheet><sheetData><row r="1"><c r="A1" t="str"><v>&z;</v></c></row></sheetData>'
    b"</worksheet>"
)
OUTSIDE = (
    b'<?xml version="1.0"?><!DOCTYPE a [<!ENTITY x SYSTEM "file:///etc/passwd">]><worksheet>'
    b'<sheetData><row r="1"><c r="A1" t="str"><v>&x;</v></c></row></sheetData></worksheet>'
)
FAR = (
    b'<?xml version="1.0"?>'
    b'<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
    b'<dimension ref="A1:XFD1048576"/><sheetData><row r="1"><c r="A1" t="str"><v>rig</v></c></row>'
    b'<row r="1048576"><c r="XFD1048576" t="str"><v>x</v></c></row></sheetData></worksheet>'
)


def cases() -> Iterator[Case]:
    kits: dict[str, tuple[str | None, Callable[[Path, Any], None]]] = {
        "all as text": (None, edited()),
        "a number as a version": (
            "number_in_version_column",
            edited(put("sessions", SESSIONS, "driver_version", "write_number", 551.1)),
        ),
        "a day as a version": (
            "number_in_version_column",
            edited(dated("sessions", SESSIONS, "driver_version")),
        ),
        "a number as a title's build": (
            "number_in_version_column",
            edited(put("runs", RUNS, "title_build", "write_number", 1.0)),
        ),
        "a day as a frame rate": (
            "date_in_number_column",
            edited(dated("runs", RUNS, "average_fps")),
        ),
        "an error as a frame rate": (
            "spreadsheet_error",
            edited(put("runs", RUNS, "average_fps", "write_formula", "=1/0", None, "#DIV/0!")),
        ),
        "a formula with its value": (
            None,
            edited(put("runs", RUNS, "average_fps", "write_formula", "=141+0.3", None, 141.3)),
        ),
        "a merged header": ("column_without_name", edited(merged)),
        "a macro": ("program_in_set", lambda p, m: repacked(p, m, {"xl/vbaProject.bin": b"x"})),
        "entities in entities": ("table_damaged", lambda p, m: repacked(p, m, {SHEET: ENTITIES})),
        "an entity of a file": ("table_damaged", lambda p, m: repacked(p, m, {SHEET: OUTSIDE})),
        "a cell in the last corner": ("table_too_large", lambda p, m: repacked(p, m, {SHEET: FAR})),
        "no XML in a sheet": ("table_damaged", lambda p, m: repacked(p, m, {SHEET: b"hello"})),
        "600 megabytes of zeros": (
            "archive_too_large",
            lambda p, m: repacked(p, m, {"xl/media/a.bin": b"\x00" * 600_000_000}),
        ),
        "six hundred parts": (
            "archive_too_large",
            lambda p, m: repacked(p, m, {f"xl/media/{n}.bin": b"" for n in range(600)}),
        ),
        "no archive": ("table_damaged", lambda p, _: p.write_bytes(b"hello") and None),
        "a password": (
            "table_damaged",
            lambda p, _: (
                p.write_bytes(b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + b"\x00" * 2000) and None
            ),
        ),
        "empty": ("empty_file", lambda p, _: p.write_bytes(b"") and None),
        "a part whose name is no UTF-8": ("table_damaged", misnamed),
    }
    for name, (rule, book) in kits.items():
        yield Case(f"workbook: {name}", rule, book=book)
    yield from parquet()


def typed(select: str) -> Callable[[Path], None]:
    """Replace sessions.csv by a Parquet file of its columns, some of them changed."""

    def write(folder: Path) -> None:
        with duckdb.connect() as con:
            source = f"read_csv('{folder / 'sessions.csv'}', all_varchar=true)"
            target = folder / "sessions.parquet"
            con.execute(f"COPY (SELECT {select} FROM {source}) TO '{target}' (FORMAT parquet)")
        (folder / "sessions.csv").unlink()

    return write


def broken(folder: Path) -> None:
    typed("*")(folder)
    data = (folder / "sessions.parquet").read_bytes()
    (folder / "sessions.parquet").write_bytes(data[: len(data) // 2] + b"PAR1")


def parquet() -> Iterator[Case]:
    number = "* REPLACE (CAST(driver_version AS DOUBLE) AS driver_version)"
    exact = "* REPLACE (CAST(driver_version AS DECIMAL(6, 2)) AS driver_version)"
    lists = "* REPLACE ([profile] AS profile)"
    days = "* REPLACE (CAST(started_on AS DATE) AS started_on, CAST(boot AS BIGINT) AS boot)"
    for name, rule, select in (
        ("all as text", None, "*"),
        ("typed days and numbers", None, days),
        ("a version as an exact decimal", None, exact),
        ("a version as a double", "number_in_version_column", number),
        ("a list for a text", "column_kind", lists),
    ):
        yield Case(f"parquet: {name}", rule, after=typed(select))
    yield Case("parquet: cut in two", "table_damaged", after=broken)
    rubbish = {"sessions.csv": None, "sessions.parquet": b"PAR1" + b"\xff" * 500 + b"PAR1"}
    yield Case("parquet: rubbish between its marks", "table_damaged", files=rubbish)
