# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""Mistakes that people make who fill in tables by hand: one finding each, and a step to take.

Consequences of a mistake are held back, and rules that could not run are listed, not guessed.
"""

from __future__ import annotations

import pytest

from rigledger.intake.check import check_set


def steps(result) -> dict[tuple[int | None, str | None], str]:
    """Give the first line of each next step by row and column."""
    return {(f.row, f.column): f.next_step.splitlines()[0] for f in result.findings}


def test_values_written_as_people_write_them_are_told_what_to_write(made, study, places):
    written = [
        ("average_fps", "96-99", "type_spelling", "Write one value: a range is no measured"),
        ("average_fps", "141.3 fps", "type_spelling", "The column's unit is fps. Write the number"),
        ("average_fps", "98%", "type_spelling", "The column's unit is fps. Write the value in it"),
        ("average_fps", "1 141.3", "type_spelling", "Write the number without marks between"),
        ("average_fps", "141,3", "type_spelling", "Write 141.3; if all numbers have a decimal"),
        ("average_fps", "14o.8", "type_spelling", "A letter stands in the number: write 140.8"),
        ("average_fps", "141 ± 2", "type_spelling", "Write the value of this run alone"),
        ("low_1pct_rank_fps", "n/a", "type_spelling", "Leave the cell blank where there is no"),
        ("low_1pct_rank_fps", "95.5 ", "type_spelling", "Remove the spaces around '95.5'."),
        ("duration_s", "1:00", "type_spelling", "The column's unit is s. Write the value in it"),
        ("resolution", "1080p", "pattern_mismatch", "Write width x height in pixels; 1080p is"),
        ("resolution", "2560 \u00d7 1440", "pattern_mismatch", "Write 2560x1440."),
        ("level", "X16", "pattern_mismatch", "Write x16."),
        ("level", "Eight lanes", "pattern_mismatch", "Write x8."),
        ("workload", "Still Room", "pattern_mismatch", "Write still-room."),
        ("role", "Measured", "not_in_vocabulary", "Did you mean 'measured'?"),
    ]
    for run, (column, value, _, _) in zip(made.runs, written, strict=True):
        run.setdefault("duration_s", "")
        run[column] = value
    for run in made.runs:
        run.setdefault("duration_s", "")
    result = check_set(made.write(), study)
    assert [
        (rule, "runs.csv", row, column, value)
        for row, (column, value, rule, _) in enumerate(written, start=2)
    ] == places(result)
    told = steps(result)
    for row, (column, _, _, step) in enumerate(written, start=2):
        assert told[row, column].startswith(step)


def test_days_in_other_orders_and_forms_are_told_the_form(made, study, places):
    made.sessions[0] |= {"started_on": "05.10.2026", "driver_date": "9/2/2026"}
    made.sessions[1] |= {"started_on": "46300", "firmware_date": "14 Aug 2026"}
    result = check_set(made.write(), study)
    assert places(result) == [
        ("type_spelling", "sessions.csv", 2, "driver_date", "9/2/2026"),
        ("type_spelling", "sessions.csv", 2, "started_on", "05.10.2026"),
        ("type_spelling", "sessions.csv", 3, "firmware_date", "14 Aug 2026"),
        ("type_spelling", "sessions.csv", 3, "started_on", "46300"),
    ]
    told = steps(result)
    order = "Write year, month and day in this order with hyphens, like 2026-10-05."
    assert told[2, "started_on"] == order
    assert told[3, "started_on"].startswith("A spreadsheet has stored the day as a number")
    assert {item.rule for item in result.not_run} == {
        "boots_out_of_order",
        "boots_out_of_order_in_study",
        "run_outside_session",
    }


def test_headings_again_units_sums_and_blank_lines_are_no_rows(made, study, places):
    folder = made.write()
    head, *rows = (folder / "runs.csv").read_text(encoding="utf-8").splitlines()
    lines = [
        head,
        ",,,,,,,,,,,,fps,fps",
        *rows[:4],
        "",
        head,
        *rows[4:],
        "Mean,,,,,,,,,,,,166.3,118",
    ]
    (folder / "runs.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    result = check_set(folder, study)
    assert places(result) == [
        ("not_a_row", "runs.csv", 2, None, "fps"),
        ("not_a_row", "runs.csv", 8, None, "resolution"),
        ("not_a_row", "runs.csv", 21, None, "Mean"),
    ]
    assert result.not_run == ()


def test_a_title_above_the_header_is_told_to_go(made, study, places):
    folder = made.write()
    path = folder / "runs.csv"
    path.write_text("My runs\n\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    result = check_set(folder, study)
    assert places(result) == [("header_missing", "runs.csv", 1, None, "My runs")]
    assert result.findings[0].next_step == "Remove rows 1 to 2, so that the header comes first."


def test_headings_in_a_persons_words_bring_no_missing_metrics(made, study, places):
    for run in made.runs:
        run["Average FPS"] = run.pop("average_fps")
        run["1% low"] = run.pop("low_1pct_rank_fps")
        run["power_w"] = "212"
        run["Driver"] = "551.10"
        run["notes"] = ""
    assert places(check_set(made.write(), study)) == [
        ("misspelt_column", "runs.csv", 1, "1% low", None),
        ("misspelt_column", "runs.csv", 1, "Average FPS", None),
        ("unknown_column", "runs.csv", 1, "Driver", None),
        ("unknown_column", "runs.csv", 1, "notes", None),
        ("unknown_metric", "runs.csv", 1, "power_w", None),
    ]


def test_a_required_metric_that_is_nowhere_is_one_finding(made, study, places):
    for run in made.runs:
        del run["low_1pct_rank_fps"]
    assert places(check_set(made.write(), study)) == [
        ("metric_missing", "runs.csv", 2, "low_1pct_rank_fps", None)
    ]


def test_decimal_commas_between_commas_are_told_to_use_semicolons(made, study):
    folder = made.write()
    path = folder / "runs.csv"
    path.write_text(path.read_text(encoding="utf-8").replace("141.3,96.4", "141,3,96,4"), "utf-8")
    found = check_set(folder, study).findings
    assert [(f.rule, f.row, f.value) for f in found] == [("ragged_row", 2, "96, 4")]
    assert 'delimiter = ";"\ndecimal = ","' in found[0].next_step


def test_points_where_the_set_states_commas_are_told_of_the_line(made, study):
    made.manifest += '\n[files]\ndecimal = ","\n'
    found = check_set(made.write(), study).findings
    assert {f.rule for f in found} == {"type_spelling"}
    assert found[0].next_step.startswith("The set states a decimal comma: write 141,3, or remove")


def test_a_mistyped_rig_is_named_where_it_is_referred_to_and_nowhere_else(made, study, places):
    made.rigs[0]["rig"] = "bemch"
    assert places(check_set(made.write(), study)) == [
        ("unknown_reference", "sessions.csv", row, "rig", "bench") for row in (2, 3)
    ]


def test_a_mistyped_session_brings_no_other_finding(made, study, places):
    made.sessions[0]["session"] = "11"
    rows = [*range(2, 8), 14, 15]
    assert places(check_set(made.write(), study)) == [
        ("unknown_session", "runs.csv", row, "session", "1") for row in rows
    ]


def test_a_bad_memory_speed_does_not_take_pairs_apart(made, study, places):
    made.sessions[0]["memory_speed_mts"] = "6000 MHz"
    result = check_set(made.write(), study)
    assert places(result) == [("type_spelling", "sessions.csv", 2, "memory_speed_mts", "6000 MHz")]
    because = "sessions.memory_speed_mts can't be used in row 2"
    assert ("no_complete_pair", because) in [(item.rule, item.because) for item in result.not_run]


def test_a_set_for_another_study_is_not_held_against_this_one(made, study, places):
    made.change([{"table": "set", "set": {"study": "other-study"}}])
    for run in made.runs:
        run["workload"] = "a-title-of-the-other"
    result = check_set(made.write(), study)
    assert places(result) == [("other_study", "result-set.toml", 2, "study", "other-study")]
    assert {item.because for item in result.not_run} == {"the set names another study"}


def test_means_typed_as_runs_are_told_once(made, study, places):
    made.change([{"table": "runs", "where": {"pass": number}, "drop": True} for number in "23"])
    assert places(check_set(made.write(), study)) == [("one_row_a_cell", "runs.csv", 2, "run", "1")]


def test_a_mistyped_build_names_both_halves_of_the_cell(made, study, places):
    made.runs[3]["title_build"] = "1.0.5"
    result = check_set(made.write(), study)
    assert places(result) == [
        ("build_changed", "runs.csv", 2, "title_build", None),
        ("too_few_runs", "runs.csv", 5, "run", "1"),
    ]
    assert result.findings[1].reason.endswith(
        "has 2 of 3 runs on build 1.0.4 and 1 of 3 runs on build 1.0.5"
    )


def test_a_set_without_a_measured_run_is_returned(made, study):
    for run in made.runs:
        run["role"] = "warm_up"
    found = [(f.rule, f.row, f.column) for f in check_set(made.write(), study).findings]
    assert ("no_complete_pair", 2, "role") in found


def test_both_columns_in_milliseconds_are_named_in_every_row(made, study, places):
    for run in made.runs:
        for name in ("average_fps", "low_1pct_rank_fps"):
            run[name] = f"{1000 / float(run[name]):.2f}"
    found = [place[:4] for place in places(check_set(made.write(), study))]
    assert found == [
        (rule, "runs.csv", row, column)
        for row in range(2, 18)
        for rule, column in (
            ("looks_like_milliseconds", "average_fps"),
            ("low_in_milliseconds", "low_1pct_rank_fps"),
        )
    ]


def test_averages_in_milliseconds_are_named_where_no_range_is_stated(made, study, places):
    path = study / "study.toml"
    text = path.read_text(encoding="utf-8")
    kept = [line for line in text.splitlines() if not line.startswith("plausible")]
    path.write_text("\n".join(kept), encoding="utf-8")
    for run in made.runs:
        run["average_fps"] = f"{1000 / float(run['average_fps']):.2f}"
    assert {place[0] for place in places(check_set(made.write(), study))} == {
        "looks_like_milliseconds"
    }


def test_one_value_with_a_slipped_point_is_not_called_milliseconds(made, study, places):
    made.runs[2]["average_fps"] = "14.21"
    assert places(check_set(made.write(), study)) == [
        ("outside_plausible_range", "runs.csv", 4, "average_fps", "14.21")
    ]


def test_a_table_under_another_name_is_told_its_name(made, study):
    folder = made.write()
    (folder / "runs.csv").rename(folder / "Runs (1).csv")
    found = check_set(folder, study).findings
    assert [(f.rule, f.file, f.next_step) for f in found] == [
        ("table_missing", "runs.csv", "Rename 'Runs (1).csv' to runs.csv.")
    ]


def test_a_kit_with_hidden_rows_formulas_sums_and_notes(made, study, places, tmp_path):
    def spoil(runs) -> None:
        runs.set_row(3, None, None, {"hidden": True})
        runs.write_formula("M6", "=90+7.6", None, "")
        runs.write_string("M7", "140,8")
        for row in (8, 9):
            runs.write_blank(row, 0, None, runs.book_format)
        runs.write_string("P10", "rerun after an update")
        runs.write_string("A18", "Average")
        runs.write_formula("M18", "=AVERAGE(M2:M17)", None, 166.3)

    result = check_set(made.write_workbook(tmp_path / "kit.xlsx", spoil=spoil), study)
    runs = "kit.xlsx: runs"
    assert places(result) == [
        ("hidden_rows", runs, 4, None, None),
        ("formula_without_value", runs, 6, "average_fps", None),
        ("type_spelling", runs, 7, "average_fps", "140,8"),
        ("required_missing", runs, 9, "rig", None),
        ("column_without_name", runs, 10, None, "rerun after an update"),
        ("required_missing", runs, 10, "rig", None),
        ("not_a_row", runs, 18, None, "Average"),
    ]
    told = steps(result)
    assert told[7, "average_fps"].startswith("The cell is text: format it as a number")
    assert told[9, "rig"].endswith("unmerge them.")


@pytest.mark.parametrize(("runs", "cells"), [(1, "1 run"), (16, "16 runs")])
def test_counts_are_in_the_singular_where_there_is_one(made, study, runs, cells):
    from rigledger.intake.report import headline

    made.runs = made.runs[:runs]
    assert f", {cells}, " in headline(check_set(made.write(), study))
