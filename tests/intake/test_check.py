# ruff: noqa: ANN001, ANN201, PLR0917 - fixtures are known by their names
"""What testers hand in, right and wrong: each thing wrong is one finding at its place."""

from __future__ import annotations

import codecs
import zipfile
from pathlib import Path

import pytest

from rigledger.files import sha256sums
from rigledger.intake.check import check_set


def semicolons(made):
    """Turn a set into what a spreadsheet of a comma locale saves."""
    made.delimiter = ";"
    made.line_end = "\r\n"
    for run in made.runs:
        for name in ("average_fps", "low_1pct_rank_fps"):
            run[name] = run[name].replace(".", ",")
    folder = made.write()
    for name in ("rigs", "sessions", "runs"):
        path = folder / f"{name}.csv"
        path.write_bytes(codecs.BOM_UTF8 + path.read_bytes())
    return folder


def test_a_set_of_a_comma_locale_is_returned_with_the_exact_lines_to_add(made, study, places):
    result = check_set(semicolons(made), study)
    assert places(result) == [
        ("delimiter_not_stated", name, 1, None, None)
        for name in ("rigs.csv", "runs.csv", "sessions.csv")
    ]
    # The lines hold for all files, so each file's advice has both, also that of rigs.csv.
    lines = 'Add to result-set.toml:\n[files]\ndelimiter = ";"\ndecimal = ","'
    assert {finding.next_step for finding in result.findings} == {lines}


def test_with_those_lines_the_same_set_is_accepted(made, study, places):
    made.manifest += '\n[files]\ndelimiter = ";"\ndecimal = ","\n'
    result = check_set(semicolons(made), study)
    assert (result.verdict, places(result)) == ("accepted", [])
    assert result.counts["measurements"] == 32


def test_a_point_where_commas_are_stated_is_a_misspelling_shown_as_written(made, study, places):
    made.manifest += '\n[files]\ndelimiter = ";"\ndecimal = ","\n'
    folder = semicolons(made)
    path = folder / "runs.csv"
    path.write_bytes(path.read_bytes().replace(b"141,3", b"141.3"))
    assert ("type_spelling", "runs.csv", 2, "average_fps", "141.3") in places(
        check_set(folder, study)
    )


@pytest.mark.parametrize("encoding", ["utf-16", "utf-8-sig", "windows-1252"])
def test_a_stated_encoding_is_read(made, study, places, encoding):
    made.manifest += f'\n[files]\nencoding = "{encoding}"\n'
    made.runs[0]["level_check"] = "Auslastung über 90 %"
    folder = made.write()
    codec = "cp1252" if encoding == "windows-1252" else encoding
    for name in ("rigs", "sessions", "runs"):
        path = folder / f"{name}.csv"
        path.write_bytes(path.read_text(encoding="utf-8").encode(codec))
    assert places(check_set(folder, study)) == []


def test_another_encoding_without_a_word_is_returned_with_the_line_to_add(made, study):
    made.runs[1]["level_check"] = "über 90 %"
    folder = made.write()
    path = folder / "runs.csv"
    path.write_bytes(path.read_text(encoding="utf-8").encode("cp1252"))
    found = check_set(folder, study).findings[0]
    assert (found.rule, found.row) == ("encoding_not_stated", 3)
    assert found.next_step.endswith('[files]\nencoding = "windows-1252"')


def test_a_blank_driver_returns_the_set_and_unknown_is_a_remark(made, study, places):
    made.sessions[0]["driver_version"] = ""
    made.sessions[1]["driver_version"] = "unknown"
    result = check_set(made.write(), study)
    assert result.verdict == "returned"
    assert ("required_missing", "sessions.csv", 2, "driver_version", "") in [
        (rule, file, row, column, value or "") for rule, file, row, column, value in places(result)
    ]
    assert ("version_unknown", "sessions.csv", 3, "driver_version", "unknown") in places(result)


@pytest.mark.parametrize(
    ("column", "value", "rule"),
    [
        ("average_fps", "NaN", "type_spelling"),
        ("average_fps", "inf", "type_spelling"),
        ("average_fps", "1e400", "out_of_bounds"),
        ("average_fps", "-3", "out_of_bounds"),
        ("average_fps", "1_000", "type_spelling"),
        ("average_fps", "+5", "type_spelling"),
        ("average_fps", " 141.3", "type_spelling"),
        ("average_fps", "141,3", "type_spelling"),
        ("average_fps", "١٤١", "type_spelling"),
        ("pass", "59.6", "type_spelling"),
        ("pass", "0", "out_of_bounds"),
        ("level", "X16", "pattern_mismatch"),
        ("resolution", "1080p", "pattern_mismatch"),
        ("role", "Measured", "not_in_vocabulary"),
        ("started_at", "5.10.2026 09:00", "type_spelling"),
        ("level_check", "x" * 401, "too_long"),
        ("workload", "", "required_missing"),
    ],
)
def test_a_wrong_cell_is_one_finding_at_its_place(made, study, places, column, value, rule):
    for run in made.runs:
        run.setdefault(column, "")
    made.runs[3][column] = value
    found = [place for place in places(check_set(made.write(), study)) if place[0] == rule]
    assert [place[:4] for place in found] == [(rule, "runs.csv", 5, column)]


def test_rules_that_need_a_broken_column_are_not_run_and_say_why(made, study):
    made.runs[3]["level"] = "X16"
    result = check_set(made.write(), study)
    by_rule = {item.rule: item.because for item in result.not_run}
    assert by_rule["too_few_runs"] == "runs.level can't be used in row 5"
    assert "outside_plausible_range" not in by_rule


def test_a_version_keeps_its_last_zero_in_csv_and_in_text_cells(made, study, places, tmp_path):
    assert places(check_set(made.write(), study)) == []
    assert places(check_set(made.write_workbook(tmp_path / "kit.xlsx"), study)) == []


@pytest.mark.parametrize("name", ["set.xlsx", "runs.xlsx", "Sessions.xlsx"])
def test_a_whole_kit_may_be_saved_under_the_name_of_a_table(made, study, places, tmp_path, name):
    assert places(check_set(made.write_workbook(tmp_path / name), study)) == []


def test_a_number_cell_in_a_version_column_is_its_own_finding(made, study, places, tmp_path):
    path = made.write_workbook(tmp_path / "kit.xlsx", ("driver_version", "average_fps"))
    assert places(check_set(path, study)) == [
        ("number_in_version_column", "kit.xlsx: sessions", row, "driver_version", "551.1")
        for row in (2, 3)
    ]


def test_an_unknown_metric_names_the_near_ones(made, study):
    for run in made.runs:
        run["low_1pct_best_fps"] = "90"
    found = check_set(made.write(), study).findings
    assert [(f.rule, f.row, f.column) for f in found] == [
        ("unknown_metric", 1, "low_1pct_best_fps")
    ]
    assert "low_1pct_rank_fps" in found[0].next_step


def test_a_misspelt_column_names_the_right_one(made, study):
    for run in made.runs:
        run["Average FPS"] = run.pop("average_fps")
    rules = {f.rule: f.next_step for f in check_set(made.write(), study).findings}
    assert "'average_fps'" in rules["misspelt_column"]


@pytest.mark.parametrize(
    ("text", "rule"),
    [
        (b"", "empty_file"),
        (b"rig,session,run,workload\n", "no_rows"),
        (b"hello\nworld\n", "header_missing"),
    ],
)
def test_a_file_with_nothing_in_it_says_so(made, study, places, text, rule):
    folder = made.write()
    (folder / "runs.csv").write_bytes(text)
    assert rule in {
        place[0] for place in places(check_set(folder, study)) if place[1] == "runs.csv"
    }


@pytest.mark.parametrize(
    ("find", "put", "rule", "row"),
    [
        ("2560x1440,x16", '2560x1440,"x16', "stray_quote", 3),
        ("141.3,96.4", "141.3", "ragged_row", 2),
        ("141.3,96.4", "141.3,96.4,7", "ragged_row", 2),
        ("link status read-out", '"link" status read-out', "stray_quote", 2),
        ("141.3", "14\x001.3", "nul_byte", 2),
    ],
)
def test_a_broken_row_is_named_by_its_physical_row(made, study, find, put, rule, row):
    folder = made.write()
    path = folder / "runs.csv"
    path.write_text(path.read_text(encoding="utf-8").replace(find, put, 1), encoding="utf-8")
    found = [f for f in check_set(folder, study).findings if f.rule == rule]
    assert found
    assert found[0].row == row


def test_rows_behind_a_line_break_in_a_cell_keep_their_physical_row(made, study, places):
    made.runs[0]["level_check"] = "read-out\nunder load"
    made.runs[3]["level"] = "X16"
    found = [p for p in places(check_set(made.write(), study)) if p[0] == "pattern_mismatch"]
    assert found == [("pattern_mismatch", "runs.csv", 6, "level", "X16")]


def test_result_set_toml_points_at_the_line_of_a_mistake(made, study, places):
    made.manifest += '\n[files]\ndelimeter = ";"\n'
    assert ("unknown_key", "result-set.toml", 11, "files.delimeter", None) in places(
        check_set(made.write(), study)
    )
    made.manifest = '[set]\nset = "autumn-1\n'
    found = check_set(made.write(), study).findings
    assert [(f.rule, f.row) for f in found] == [("toml_error", 2)]


def test_a_version_without_quotes_in_result_set_toml_is_its_own_finding(made, study, places):
    made.manifest += "\n[same_for_all_sessions]\ndriver_version = 551.10\n"
    for session in made.sessions:
        del session["driver_version"]
    found = [p[0] for p in places(check_set(made.write(), study))]
    assert found == ["number_in_version_column"]


def with_captures(made, frame_ns: int = 7_077_141) -> None:
    """Give the first run a capture of 60 s at a steady rate: 141.3 fps."""
    made.manifest += '\n[captures]\nframe_time_column = "frame_ms"\nunit = "ms"\n'
    count = 60_000_000_000 // frame_ns
    lines = "frame_ms\n" + f"{frame_ns / 1e6}\n" * count
    for run in made.runs:
        run["capture_file"] = ""
    made.runs[0] |= {"capture_file": "captures/001.csv", "low_1pct_rank_fps": "141.3"}
    made.files["captures/001.csv"] = lines.encode()


def test_a_capture_that_agrees_says_nothing(made, study):
    with_captures(made)
    rules = {f.rule for f in check_set(made.write(), study).findings}
    assert rules == {"low_equals_average"}


def test_a_missing_capture_and_one_that_disagrees_are_found(made, study, places):
    with_captures(made, 10_000_000)
    made.runs[1]["capture_file"] = "captures/002.csv"
    found = places(check_set(made.write(), study))
    assert ("capture_missing", "runs.csv", 3, "capture_file", "captures/002.csv") in found
    # Both of its metrics disagree, so it is the file that belongs to another run.
    assert ("capture_disagrees", "runs.csv", 2, "capture_file", "captures/001.csv") in found


def test_a_capture_path_out_of_the_set_is_not_opened(made, study, places):
    with_captures(made)
    made.runs[1]["capture_file"] = "../study/study.toml"
    found = places(check_set(made.write(), study))
    assert ("capture_outside_set", "runs.csv", 3, "capture_file", "../study/study.toml") in found


def test_a_zip_is_read_like_its_folder(made, study, tmp_path):
    folder = made.write()
    path = tmp_path / "set.zip"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for item in sorted(folder.rglob("*")):
            packed.write(item, Path("autumn") / item.relative_to(folder))
    assert check_set(path, study).verdict == "accepted"


def test_a_check_changes_neither_the_set_nor_the_study(made, study):
    with_captures(made)
    folder = made.write()
    before = sha256sums(folder), sha256sums(study)
    check_set(folder, study)
    assert (sha256sums(folder), sha256sums(study)) == before


def test_without_a_study_what_needs_one_is_listed_as_not_run(made):
    result = check_set(made.write(), None)
    assert result.verdict == "accepted"
    assert {item.because for item in result.not_run} == {
        "no study was given to hold the set against"
    }
