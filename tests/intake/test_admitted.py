# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""Rules that hold a set against the sets that are in the study already."""

from __future__ import annotations

import pytest

from rigledger.intake.check import check_set


@pytest.fixture
def taken(made, admit_once):
    """The clean set is in the study; gives it back under another name, ready to be changed."""
    admit_once(made.write())
    made.manifest = made.manifest.replace('"autumn-1"', '"autumn-2"')
    return made


def rules(made, study):
    return sorted({finding.rule for finding in check_set(made.write(), study).findings})


def test_the_same_rows_under_another_name_are_seen(taken, study):
    assert rules(taken, study) == ["copied_from_other_set", "session_already_admitted"]


def test_another_contributor_with_the_same_values_is_seen_as_a_copy_only(taken, study):
    taken.manifest = taken.manifest.replace('"anna"', '"berta"')
    assert rules(taken, study) == ["copied_from_other_set"]


def test_a_set_that_says_what_it_supersedes_is_not_held_against_it(taken, study):
    taken.manifest = taken.manifest.replace("[set]\n", '[set]\nsupersedes = "autumn-1"\n')
    assert rules(taken, study) == []


def test_later_sessions_of_the_same_rig_with_their_own_values_are_welcome(taken, study):
    for session in taken.sessions:
        session["boot"] = str(int(session["boot"]) + 2)
        session["session"] = session["boot"]
    for run in taken.runs:
        run["session"] = str(int(run["session"]) + 2)
        run["average_fps"] = f"{float(run['average_fps']) + 0.1:.1f}"
    assert rules(taken, study) == []


@pytest.mark.parametrize(
    ("column", "value"),
    [("card_unit", "card-b"), ("platform_unit", "bench-2")],
)
def test_a_rig_whose_card_or_platform_was_swapped_is_returned_by_name(taken, study, column, value):
    """What a swap moves would be blamed on the driver: the rig needs a name of its own."""
    for row in taken.rigs:
        row[column] = value
    found = [
        (finding.file, finding.row, finding.column, finding.value)
        for finding in check_set(taken.write(), study).findings
        if finding.rule == "rig_with_other_hardware"
    ]
    assert [("rigs.csv", 2, column, value)] == found


def test_a_later_boot_that_is_dated_before_those_of_the_study_is_returned(taken, study):
    """Its stack would come before the one that it followed, and stop every later audit."""
    for session in taken.sessions:
        session["boot"] = str(int(session["boot"]) + 2)
        session["session"] = session["boot"]
        session["started_on"] = "2026-09-01"
        session.pop("driver_date", None)
        session.pop("firmware_date", None)
    for run in taken.runs:
        run["session"] = str(int(run["session"]) + 2)
    found = [
        (finding.file, finding.row, finding.column, finding.value)
        for finding in check_set(taken.write(), study).findings
        if finding.rule == "boots_out_of_order_in_study"
    ]
    assert [("sessions.csv", 2, "boot", "3"), ("sessions.csv", 3, "boot", "4")] == found


def test_a_unit_that_nobody_stated_is_no_swap(taken, study):
    for row in taken.rigs:
        row["card_unit"] = "unknown"
    assert "rig_with_other_hardware" not in rules(taken, study)
