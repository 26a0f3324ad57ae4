"""A kit filled in by a real spreadsheet in a comma locale is read as typed, or returned."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.contract import load_contract
from rigledger.intake.check import check_set
from rigledger.intake.database import locked_database
from rigledger.intake.gate import inspect
from rigledger.intake.log import FindingLog
from rigledger.intake.readset import read_set
from rigledger.intake.typed import make_typed
from rigledger.study import kit_model
from rigledger.study.design import read_design
from rigledger.study.kit_folder import manifest_text
from rigledger.study.kit_xlsx import write_kit_xlsx
from rigledger.study.sheet import make_sheet, rigs_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rigledger.findings import Finding
    from rigledger.study.kit_model import Kit

SOFFICE = shutil.which("soffice")
LIBRARY = """<?xml version="1.0" encoding="UTF-8"?>
<library:library xmlns:library="http://openoffice.org/2000/library" library:name="Standard"
 library:readonly="false" library:passwordprotected="false">
 <library:element library:name="Typist"/>
</library:library>
"""
MODULE = """<?xml version="1.0" encoding="UTF-8"?>
<script:module xmlns:script="http://openoffice.org/2000/script" script:name="Typist"
 script:language="StarBasic"><![CDATA[
{text}
]]></script:module>
"""
# The locale of the system decides what a person may type; the language of the menus doesn't.
COMMA_LOCALE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Setup/L10N">
<prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>de-DE</value></prop></item>
</oor:items>
"""
# Carries out one order a line: open, type, format, save, close; cells are typed into as by hand.
TYPIST_TEXT = """
Sub Main
  Dim book, helper, order, parts
  On Error GoTo Failed
  helper = CreateUnoService("com.sun.star.frame.DispatchHelper")
  Open "{orders}" For Input As #1
  While Not EOF(1)
    Line Input #1, order
    parts = Split(order, Chr(9))
    Select Case parts(0)
      Case "open"
        book = StarDesktop.loadComponentFromURL(ConvertToURL(parts(1)), "_blank", 0, Array())
      Case "type"
        Choose book, parts
        helper.executeDispatch(book.CurrentController.Frame, ".uno:EnterString", "", 0, _
          Array(Named("StringName", parts(3))))
      Case "format"
        Choose book, parts
        Dim language As New com.sun.star.lang.Locale
        language.Language = Left(parts(3), 2)
        language.Country = Right(parts(3), 2)
        book.CurrentSelection.NumberFormat = book.NumberFormats.getStandardIndex(language)
      Case "save"
        book.storeToURL(ConvertToURL(parts(1)), _
          Array(Named("FilterName", parts(2)), Named("FilterOptions", parts(3))))
      Case "close"
        book.close(True)
    End Select
  Wend
  Close #1
  StarDesktop.terminate()
  Exit Sub
Failed:
  Open "{orders}.failed" For Output As #2
  Print #2, Error & " in Basic line " & Erl & ": " & order
  Close #2
  StarDesktop.terminate()
End Sub

Sub Choose(book, parts)
  Dim page
  page = book.Sheets.getByName(parts(1))
  book.CurrentController.setActiveSheet(page)
  book.CurrentController.select(page.getCellRangeByName(parts(2)))
End Sub

Function Named(key, held)
  Dim made As New com.sun.star.beans.PropertyValue
  made.Name = key
  made.Value = held
  Named = made
End Function
"""
XLSX = "Calc MS Excel 2007 XML"
# Semicolon, double quote, UTF-8, from line 1, German, as shown, every sheet to a file of its own.
CSV = "Text - txt - csv (StarCalc)", "59,34,76,1,,1031,false,true,false,false,false,-1"

pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(SOFFICE is None, reason="soffice is missing (Debian: libreoffice-calc)"),
]


def comma(value: float) -> str:
    return str(value).replace(".", ",")


def figures(place: int) -> tuple[float, float]:
    """Average and 1% low of a run: enough spread and last digits not to look made up."""
    average = round(100 + (place * 37 % 17) / 10, 1)
    return average, round(average * 0.7 - (place * 29 % 13) / 10, 1)


RIG = {"platform_unit": "bench-1", "card_unit": "card-a", "hardware_from": "bought"}
SESSION = {
    "firmware_version": "2.10",
    "firmware_date": "14.08.2026",
    "driver_version": "551.10",
    "card_firmware_version": "96.00.4c",
    "os": "desktop-os 11",
    "os_build": "26100.2310",
    "memory_speed_mts": "6000",
    "profile": "default",
}


def typed_in(kit: Kit) -> dict[str, list[dict[str, str]]]:
    """What a person in a comma locale types, row by row."""
    sessions = [SESSION | {"started_on": f"0{n}.10.2026"} for n in range(1, 10)]
    runs = []
    for place in range(len(kit.table("runs").rows)):
        average, low = figures(place)
        runs.append(
            {
                "title_build": "1.10",
                "level_state": "effective",
                "level_check": "status read-out under load",
                "average_fps": comma(average),
                "low_1pct_rank_fps": comma(low),
            }
        )
    return {"rigs": [RIG], "sessions": sessions[: len(kit.table("sessions").rows)], "runs": runs}


def cell(kit: Kit, table: str, row: int, column: str) -> str:
    """Address of a cell; rows count from 0 below the header."""
    return f"{table}\t{chr(ord('A') + kit.table(table).place(column))}{row + 2}"


def orders_to_fill(kit: Kit) -> Iterable[str]:
    for table, rows in typed_in(kit).items():
        for row, values in enumerate(rows):
            for column, text in values.items():
                yield f"type\t{cell(kit, table, row, column)}\t{text}"


def orders_to_spoil(kit: Kit) -> Iterable[str]:
    """Cells whose text format is gone, and a number that the spreadsheet takes for a date."""
    version = cell(kit, "sessions", 1, "driver_version")
    yield f"format\t{version}\ten-US"
    yield f"type\t{version}\t551.10"
    yield f"type\t{cell(kit, 'runs', 1, 'average_fps')}\t12.5."


@dataclass(frozen=True)
class Filled:
    """What the spreadsheet saved: two workbooks, and the first one as CSV files."""

    kit: Kit
    study: Path
    book: Path
    spoiled: Path
    tables: Path


def spreadsheet(profile: Path, *words: str) -> None:
    subprocess.run(  # noqa: S603 - the spreadsheet found on the path
        [str(SOFFICE), f"-env:UserInstallation={profile.as_uri()}", "--headless", "--norestore",
         *words],
        check=True, capture_output=True, timeout=60,
    )  # fmt: skip


def carry_out(orders: list[str], folder: Path) -> None:
    """Let the spreadsheet carry out orders under a profile of its own, in a comma locale."""
    profile, file = folder / "profile", folder / "orders.txt"
    (profile / "user").mkdir(parents=True)
    (profile / "user" / "registrymodifications.xcu").write_text(COMMA_LOCALE, encoding="utf-8")
    spreadsheet(profile, "--terminate_after_init")
    library = profile / "user" / "basic" / "Standard"
    (library / "script.xlb").write_text(LIBRARY, encoding="utf-8")
    text = TYPIST_TEXT.replace("{orders}", str(file))
    (library / "Typist.xba").write_text(MODULE.format(text=text), encoding="utf-8")
    file.write_text("\n".join(orders) + "\n", encoding="utf-8")
    spreadsheet(profile, "macro:///Standard.Typist.Main")
    failed = Path(f"{file}.failed")
    assert not failed.exists(), failed.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory, study_text: str) -> Filled:
    folder = tmp_path_factory.mktemp("spreadsheet")
    study = folder / "study" / "study.toml"
    study.parent.mkdir()
    study.write_text(study_text, encoding="utf-8")
    design = read_design(study)
    rigs = rigs_of(design, platforms=["ostrel-8"], cards=["velmar-90"])
    tester = kit_model.Tester("anna", "autumn-1", "Anna", "+01:00")
    kit = kit_model.make_kit(design, load_contract(), rigs, make_sheet(design, rigs), tester=tester)
    empty, book, spoiled = (folder / f"{name}.xlsx" for name in ("empty", "filled", "spoiled"))
    tables = folder / "tables"
    tables.mkdir()
    write_kit_xlsx(empty, kit)
    orders = [
        f"open\t{empty}",
        *orders_to_fill(kit),
        f"save\t{book}\t{XLSX}\t",
        "save\t" + "\t".join((str(tables / "kit.csv"), *CSV)),
        *orders_to_spoil(kit),
        f"save\t{spoiled}\t{XLSX}\t",
        "close",
    ]
    carry_out(orders, folder)
    return Filled(kit, study, book, spoiled, tables)


def handed(path: Path, query: str) -> list[tuple[Any, ...]]:
    """Ask the tables that intake has cast."""
    with tempfile.TemporaryDirectory() as name:
        log = FindingLog(load_contract())
        seen = inspect(path, Path(name))
        assert seen.folder is not None
        with locked_database(seen.folder, Path(name)) as con:
            held = read_set(con, seen.folder, seen.files, log, Path(name))
            make_typed(con, held, log.contract)
            return con.execute(query).fetchall()


def read_values(path: Path) -> list[tuple[Any, ...]]:
    return handed(
        path,
        "SELECT session, run, title_build, average_fps, low_1pct_rank_fps FROM handed.runs "
        "ORDER BY session, run",
    )


def read_versions(path: Path) -> list[tuple[Any, ...]]:
    return handed(path, "SELECT firmware_version, driver_version, os_build FROM handed.sessions")


def typed_values(kit: Kit) -> list[tuple[Any, ...]]:
    rows = kit.table("runs").rows
    return sorted(
        ((row["session"], row["run"], "1.10", *figures(place)) for place, row in enumerate(rows)),
        key=lambda held: held[:2],
    )


def places(findings: Iterable[Finding]) -> list[tuple[Any, ...]]:
    return [(f.rule, f.file, f.row, f.column, f.value) for f in findings]


def saved_tables(filled: Filled, folder: Path, further: str = "") -> Path:
    """The sheets saved as CSV under the names that a set's files have."""
    folder.mkdir()
    for name in ("rigs", "sessions", "runs"):
        shutil.copy(filled.tables / f"kit-{name}.csv", folder / f"{name}.csv")
    (folder / "result-set.toml").write_text(manifest_text(filled.kit) + further, encoding="utf-8")
    return folder


def test_the_command_accepts_a_workbook_filled_in_a_comma_locale(filled: Filled) -> None:
    done = subprocess.run(  # noqa: S603 - our own command
        [sys.executable, "-m", "rigledger", "check", str(filled.book), "--study",
         str(filled.study), "--json"],
        capture_output=True, check=False,
    )  # fmt: skip
    said = json.loads(done.stdout)
    assert ("accepted", []) == (said["verdict"], said["findings"])
    assert done.returncode == 0


def test_numbers_typed_with_commas_and_versions_typed_as_text_are_read_as_typed(
    filled: Filled,
) -> None:
    assert typed_values(filled.kit) == read_values(filled.book)


def test_text_cells_of_the_saved_workbook_keep_the_zeros_of_versions(filled: Filled) -> None:
    assert len(filled.kit.table("sessions").rows) * [
        ("2.10", "551.10", "26100.2310")
    ] == read_versions(filled.book)


def test_tables_saved_with_semicolons_are_returned_with_the_lines_to_add(
    filled: Filled, tmp_path: Path
) -> None:
    result = check_set(saved_tables(filled, tmp_path / "set"), filled.study)
    assert "returned" == result.verdict
    lines = 'Add to result-set.toml:\n[files]\ndelimiter = ";"\ndecimal = ","'
    assert [
        ("rigs.csv", lines),
        ("runs.csv", lines),
        ("sessions.csv", lines),
    ] == [(f.file, f.next_step) for f in result.findings if f.rule == "delimiter_not_stated"]


def test_with_the_lines_added_the_same_tables_are_read_as_typed(
    filled: Filled, tmp_path: Path
) -> None:
    returned = check_set(saved_tables(filled, tmp_path / "first"), filled.study)
    (step,) = (f.next_step for f in returned.findings if f.file == "runs.csv")
    lines = step.removeprefix("Add to result-set.toml:\n") if step else ""
    again = saved_tables(filled, tmp_path / "again", f"\n{lines}\n")
    result = check_set(again, filled.study)
    assert ("accepted", ()) == (result.verdict, result.findings)
    assert typed_values(filled.kit) == read_values(again)


def test_a_version_made_a_number_and_a_number_made_a_date_are_returned_not_guessed(
    filled: Filled,
) -> None:
    result = check_set(filled.spoiled, filled.study)
    assert "returned" == result.verdict
    found = places(result.findings)
    assert (
        "number_in_version_column", "spoiled.xlsx: sessions", 3, "driver_version", "551.1",
    ) in found  # fmt: skip
    date = [place for place in found if place[0] == "date_in_number_column"]
    assert [("spoiled.xlsx: runs", 3, "average_fps")] == [place[1:4] for place in date]
