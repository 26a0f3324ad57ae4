"""A kit is an empty result set with every planned row in it; filled in, it passes the check."""

from __future__ import annotations

import csv
import subprocess
import sys
import tomllib
from dataclasses import replace
from typing import TYPE_CHECKING

import jsonschema
import pytest
import python_calamine

from rigledger.errors import StudyError
from rigledger.intake.check import check_set
from rigledger.study import kit_model
from rigledger.study.kit_folder import kit_files, manifest_schema, manifest_text, write_kit_folder
from rigledger.study.kit_guide import guide_text
from rigledger.study.kit_model import Kit, make_kit
from rigledger.study.kit_warnings import CellWarning, warnings_of
from rigledger.study.kit_xlsx import write_kit_xlsx
from rigledger.study.model import PlannedRig
from rigledger.study.sheet import make_sheet, rigs_of

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.contract import Contract
    from rigledger.study.layout import StudyFolder
    from rigledger.study.model import Design

    Fill = Callable[[Kit], Kit]

TESTER = kit_model.Tester("anna", "autumn-1", "Anna")


def test_a_kit_holds_every_run_of_the_sheet_once_and_nothing_else(
    fast_kit: Kit, design: Design
) -> None:
    runs = fast_kit.table("runs").rows
    promised = [
        (session.rig, session.session, run.run)
        for session in fast_kit.sheet.sessions
        for run in session.runs
    ]
    assert [(row["rig"], row["session"], row["run"]) for row in runs] == promised
    assert len(runs) == fast_kit.sheet.counts["runs"]
    assert all(row[metric] is None for row in runs for metric in design.metrics)


def test_a_filled_folder_passes_the_check(study: StudyFolder, handed_in: Path) -> None:
    result = check_set(handed_in, study.root)
    assert (result.findings, result.verdict) == ((), "accepted")
    assert result.counts["runs"] == 32


def test_a_filled_workbook_passes_the_check_and_says_the_same(
    study: StudyFolder, fast_kit: Kit, fill: Fill, handed_in: Path, tmp_path: Path
) -> None:
    write_kit_xlsx(tmp_path / "kit.xlsx", fill(fast_kit))
    result = check_set(tmp_path / "kit.xlsx", study.root)
    assert (result.findings, result.verdict) == ((), "accepted")
    assert result.counts == check_set(handed_in, study.root).counts


@pytest.mark.parametrize("form", ["folder", "workbook"])
def test_an_empty_kit_is_returned_for_what_is_blank_and_for_nothing_else(
    study: StudyFolder, fast_kit: Kit, tmp_path: Path, form: str
) -> None:
    path = tmp_path / ("kit" if form == "folder" else "kit.xlsx")
    (write_kit_folder if form == "folder" else write_kit_xlsx)(path, fast_kit)
    errors = {
        finding.rule
        for finding in check_set(path, study.root).findings
        if finding.severity == "error"
    }
    assert errors
    assert errors <= {"required_missing", "missing_column", "metric_missing", "no_value"}


def test_a_folder_is_not_written_over(fast_kit: Kit, tmp_path: Path) -> None:
    write_kit_folder(tmp_path / "kit", fast_kit)
    before = sorted(path.name for path in (tmp_path / "kit").iterdir())
    with pytest.raises(FileExistsError):
        write_kit_folder(tmp_path / "kit", fast_kit)
    assert sorted(path.name for path in (tmp_path / "kit").iterdir()) == before
    assert before == [
        "guide.txt",
        "result-set.schema.json",
        "result-set.toml",
        "rigs.csv",
        "runs.csv",
        "sessions.csv",
    ]


def test_the_same_kit_gives_the_same_bytes(fast_kit: Kit, tmp_path: Path) -> None:
    for name in ("one.xlsx", "two.xlsx"):
        write_kit_xlsx(tmp_path / name, fast_kit)
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    assert kit_files(fast_kit) == kit_files(fast_kit)


def test_the_manifest_is_filled_in_as_far_as_it_is_known(fast_kit: Kit) -> None:
    held = tomllib.loads(manifest_text(fast_kit))
    assert held["set"] == {
        "set": "autumn-1",
        "contributor": "anna",
        "shown_name": "Anna",
        "study": "link-width",
        "licence": "CC-BY-4.0",
        "consent_version": "1",
        "utc_offset": "+01:00",
    }


def test_every_line_left_out_reads_as_toml_once_its_mark_is_taken_away(fast_kit: Kit) -> None:
    """A commented key starts with a lower-case word and an equals sign, or a bracket."""
    lines = manifest_text(fast_kit).splitlines()
    opened = [
        line[2:]
        if line.startswith("# [")
        or (line[2:].split(" = ")[0].replace("_", "").isalpha() and " = " in line)
        else line
        for line in lines
    ]
    held = tomllib.loads("\n".join(opened))
    assert held["captures"] == {"frame_time_column": "frame_time_ms", "unit": "ms"}
    assert held["same_for_workload"]["salt-road"] == {"title_build": "1.0.4"}


def test_an_editor_is_told_what_the_manifest_may_hold(fast_kit: Kit, contract: Contract) -> None:
    schema = manifest_schema(contract)
    jsonschema.Draft202012Validator.check_schema(schema)
    held = tomllib.loads(manifest_text(fast_kit))
    jsonschema.validate(held, schema)
    for wrong in (
        {"set": held["set"] | {"licence": "none"}},
        {"set": held["set"] | {"contributor": "Anna B"}},
        {"set": {key: value for key, value in held["set"].items() if key != "study"}},
        held | {"sett": {}},
    ):
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.validate(wrong, schema)


def test_a_workbook_has_its_sheets_its_lists_and_versions_as_text(
    fast_kit: Kit, fill: Fill, tmp_path: Path
) -> None:
    path = tmp_path / "kit.xlsx"
    write_kit_xlsx(path, fill(fast_kit))
    book = python_calamine.CalamineWorkbook.from_path(str(path))
    assert book.sheet_names == ["guide", "set", "rigs", "sessions", "runs", "lists", "cautions"]
    lists = book.get_sheet_by_name("lists").to_python()
    columns = {row[0]: [cell for cell in row[1:] if cell] for row in zip(*lists, strict=True)}
    assert columns["level"] == ["x16", "x8"]
    assert columns["role"] == ["measured", "warm_up", "sentinel", "aborted", "not_possible"]
    assert columns["card"] == ["fast", "slow"]
    sessions = book.get_sheet_by_name("sessions").to_python()
    place = sessions[0].index("driver_version")
    assert {row[place] for row in sessions[1:5]} == {"551.10"}


def test_a_workbook_warns_of_a_low_above_its_average_blanks_and_implausible_values(
    fast_kit: Kit,
) -> None:
    runs = fast_kit.table("runs")
    average, low = runs.place("average_fps"), runs.place("low_1pct_rank_fps")
    warnings = list(warnings_of(fast_kit, runs, 60))
    doubts = [held for held in warnings if held.kind == "doubt"]
    assert doubts[0] == CellWarning(
        "doubt",
        (1, low, 60, low),
        {"type": "formula", "criteria": "=AND(ISNUMBER(L2),ISNUMBER($K2),L2>$K2)"},
    )
    # Every harbour run at 1920x1080 is watched for its range, and no other.
    watched = {row for held in doubts[1:] for row in range(held.area[0], held.area[2] + 1)}
    assert watched == {
        number
        for number, row in enumerate(runs.rows, start=1)
        if (row["workload"], row["resolution"]) == ("harbour-dawn", "1920x1080")
    }
    assert {held.area[1] for held in doubts[1:]} == {average}
    sessions = fast_kit.table("sessions")
    blanks = {held.area[1] for held in warnings_of(fast_kit, sessions, 60) if held.kind == "blank"}
    assert sessions.place("driver_version") in blanks


def test_a_card_the_study_does_not_list_is_proposed(
    design: Design, contract: Contract, tmp_path: Path, study: StudyFolder, fill: Fill
) -> None:
    wide = replace(design, plan=tuple(replace(part, cards=None) for part in design.plan[:1]))
    rigs = [PlannedRig("pocket", "p1", "pixie", card_class="handheld")]
    kit = make_kit(wide, contract, rigs, make_sheet(wide, rigs), tester=TESTER)
    held = tomllib.loads(manifest_text(kit))
    assert held["cards"] == [{"card": "pixie", "model": "", "class": "handheld"}]
    described = fill(kit).with_rows(
        "cards", [{"card": "pixie", "model": "Velmar Mini", "class": "handheld", "memory_gb": None}]
    )
    write_kit_xlsx(tmp_path / "kit.xlsx", described)
    text = study.toml.read_text(encoding="utf-8").replace('cards = ["fast"]\n', "")
    study.toml.write_text(text, encoding="utf-8")
    result = check_set(tmp_path / "kit.xlsx", study.root)
    assert [finding for finding in result.findings if finding.severity == "error"] == []


def test_a_rig_of_which_the_plan_asks_nothing_is_refused(
    design: Design, contract: Contract
) -> None:
    rigs = [PlannedRig("other", "p1", "unheard-of")]
    with pytest.raises(StudyError, match="asks nothing of the rig other"):
        make_kit(design, contract, rigs, make_sheet(design, rigs), tester=TESTER)


@pytest.mark.parametrize("name", ["Anna", "anna b", ""])
def test_a_name_that_can_not_be_part_of_an_id_is_refused(
    design: Design, contract: Contract, name: str
) -> None:
    rigs = rigs_of(design, cards=["fast"])
    tester = replace(TESTER, contributor=name)
    with pytest.raises(StudyError) as raised:
        make_kit(design, contract, rigs, make_sheet(design, rigs), tester=tester)
    assert raised.value.column == "contributor"


def test_the_guide_fits_a_page_and_ends_with_the_cautions(fast_kit: Kit) -> None:
    text = guide_text(fast_kit)
    assert text.index("CAUTIONS") > text.index("Sessions: one row is one boot")
    assert "Mains power" in text
    assert len(text.splitlines()) < 66


def test_a_kit_as_a_spreadsheet_saves_it_reads_the_same_with_the_line_it_offers(
    study: StudyFolder, handed_in: Path
) -> None:
    for path in handed_in.glob("*.csv"):
        with path.open(encoding="utf-8", newline="") as stream:
            rows = list(csv.reader(stream))
        turned = [
            [cell.replace(".", ",") if _is_number(cell) else cell for cell in row] for row in rows
        ]
        with path.open("w", encoding="utf-8-sig", newline="") as stream:
            csv.writer(stream, delimiter=";", lineterminator="\r\n").writerows(turned)
    manifest = handed_in / "result-set.toml"
    text = manifest.read_text(encoding="utf-8")
    for line in ("[files]", 'delimiter = ";"', 'decimal = ","'):
        assert f"\n# {line}\n" in text
        text = text.replace(f"\n# {line}\n", f"\n{line}\n", 1)
    manifest.write_text(text, encoding="utf-8")
    result = check_set(handed_in, study.root)
    assert [finding for finding in result.findings if finding.severity == "error"] == []
    assert result.counts["measurements"] == 64


def _is_number(cell: str) -> bool:
    return cell.count(".") == 1 and cell.replace(".", "").isdigit() and len(cell.split(".")[1]) == 1


def test_kits_load_nothing_of_the_curators_packages() -> None:
    kit = ["kit_folder", "kit_xlsx", "sheet_xlsx", "sheet_html", "from_captures", "design"]
    heavy = [
        "pandas",
        "polars",
        "pandera",
        "frictionless",
        "great_expectations",
        "scipy",
        "numpy",
        "filelock",
    ]
    code = (
        f"import sys, {', '.join(f'rigledger.study.{name}' for name in kit)}\n"
        f"print(sorted(set({heavy}) & set(sys.modules)))"
    )
    done = subprocess.run(  # noqa: S603 - our own interpreter
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )
    assert done.stdout == "[]\n"
