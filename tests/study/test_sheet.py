"""The sheet asks for every planned run once, in drawn order, and says how long it takes."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.errors import StudyError
from rigledger.study.sheet import Progress, make_sheet, rigs_of, usual_seed
from rigledger.study.sheet_model import MEASURED, SENTINEL, Sheet
from rigledger.study.sheet_rows import (
    clock_text,
    counts_text,
    minutes_of,
    sheet_csv,
    sheet_rows,
    sheet_text,
)

if TYPE_CHECKING:
    from rigledger.study.model import Design


def _cells(sheet: Sheet) -> Counter[tuple[str, int, str, str, str]]:
    return Counter(
        (session.rig, session.round, run.workload, run.resolution, run.level)
        for session in sheet.sessions
        for run in session.runs
        if run.role == MEASURED
    )


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40
)
@given(
    passes=st.integers(1, 5),
    rounds=st.integers(1, 4),
    share=st.booleans(),
    apart=st.booleans(),
    seed=st.text(max_size=5),
)
def test_the_sheet_promises_each_planned_cell_its_passes_in_each_round(
    *, design: Design, passes: int, rounds: int, share: bool, apart: bool, seed: str
) -> None:
    design = replace(design, rounds_planned=rounds, levels_share_sessions=share)
    rigs = rigs_of(design)
    sheet = make_sheet(design, rigs, seed=seed or None, passes=passes, rounds_apart=apart)
    expected = {
        (cell.rig, number, cell.workload, cell.resolution, cell.level): passes
        for cell in design.planned_cells(rigs)
        for number in range(1, rounds + 1)
    }
    assert _cells(sheet) == expected
    assert sheet.counts["measured_runs"] == sum(expected.values())
    for session in sheet.sessions:
        keys = [(r.role, r.workload, r.resolution, r.level, r.pass_number) for r in session.runs]
        assert len(set(keys)) == len(keys)
        assert [run.run for run in session.runs] == [
            f"{place:03d}" for place in range(1, len(session.runs) + 1)
        ]


def test_runs_required_are_shared_out_over_rounds_rounded_up(design: Design) -> None:
    assert make_sheet(design, rigs_of(design)).passes == 2
    assert make_sheet(replace(design, rounds_planned=1), rigs_of(design)).passes == 3


def test_the_same_seed_gives_the_same_sheet_and_another_another(design: Design) -> None:
    rigs = rigs_of(design)
    usual = make_sheet(design, rigs)
    assert usual.seed == usual_seed(design, rigs)
    assert make_sheet(design, rigs) == usual
    assert make_sheet(design, list(reversed(rigs))) == usual
    others = {make_sheet(design, rigs, seed=str(n)).blocks for n in range(10)}
    assert len(others) > 5


def test_a_level_that_needs_a_reboot_has_sessions_of_its_own_that_change_their_order(
    design: Design,
) -> None:
    sheet = make_sheet(design, rigs_of(design, cards=["fast"]))
    assert [session.round for session in sheet.sessions] == [1, 1, 2, 2]
    order = [session.levels for session in sheet.sessions]
    assert all(len(levels) == 1 for levels in order)
    assert order[:2] == list(reversed(order[2:]))
    assert [session.boot for session in sheet.sessions] == [1, 2, 3, 4]


def test_levels_that_share_a_session_take_turns_pass_by_pass(design: Design) -> None:
    shared = replace(design, levels_share_sessions=True, rounds_planned=1)
    (session,) = make_sheet(shared, rigs_of(design, cards=["slow"]), passes=4).sessions
    runs = [run for run in session.runs if run.workload == "harbour-dawn"]
    first, second = runs[0].level, runs[1].level
    assert [run.level for run in runs] == [first, second, second, first] * 2
    assert [run.pass_number for run in runs] == [1, 1, 2, 2, 3, 3, 4, 4]


def test_sentinels_open_and_close_each_session_at_its_first_level(design: Design) -> None:
    for session in make_sheet(design, rigs_of(design)).sessions:
        assert [
            (run.role, run.workload, run.pass_number) for run in (session.runs[0], session.runs[-1])
        ] == [
            (SENTINEL, "sentinel-loop", 1),
            (SENTINEL, "sentinel-loop", 2),
        ]
        assert {session.runs[0].level, session.runs[-1].level} == {session.levels[0]}
        assert {run.role for run in session.runs[1:-1]} == {MEASURED}


def test_minutes_add_up_from_swap_boot_launch_and_pass(design: Design) -> None:
    sheet = make_sheet(design, rigs_of(design, cards=["slow"]))
    # Per session: boot 4; two sentinels of 0.5 + 0.5 pause + 1.5 launch; harbour 1.5 launch and
    # passes of 1 + 0.5; salt-road 2.5 launch and passes of 0.5 + 0.5. Of three runs a cell the
    # first round takes two.
    first, second = (4 + 2 * 2.5 + (1.5 + passes * 1.5) + (2.5 + passes * 1.0) for passes in (2, 1))
    assert [held.minutes for held in sheet.sessions] == [first, first, second, second]
    assert sheet.minutes == pytest.approx(25 + 2 * first + 2 * second)
    assert sheet.counts == {
        "rigs": 1,
        "card_swaps": 1,
        "boots": 4,
        "cells": 4,
        "runs": 20,
        "measured_runs": 12,
        "sentinel_runs": 8,
        "days": 1,
        "hours": round((25 + 2 * first + 2 * second) / 60, 2),
    }


def test_a_title_is_launched_once_a_session(design: Design) -> None:
    for session in make_sheet(design, rigs_of(design)).sessions:
        names = [run.workload for run in session.runs]
        changes = [b for a, b in zip(["", *names], names, strict=False) if a != b]
        assert len(changes) == len(set(names)) + 1


def test_graphics_built_in_need_no_swap(design: Design) -> None:
    cards = tuple(replace(card, card_class="built_in") for card in design.cards)
    sheet = make_sheet(replace(design, cards=cards), rigs_of(design))
    assert sheet.counts["card_swaps"] == 0


def test_days_cut_no_session_and_keep_to_their_hours(design: Design) -> None:
    short = replace(design, times=replace(design.times, day_hours=1))
    sheet = make_sheet(short, rigs_of(design))
    assert [part.session for part in sheet.days] == list(sheet.sessions)
    assert sheet.counts["days"] > 1
    for part in sheet.days:
        assert part.ends <= 60 or part.starts == 0


def test_returning_to_each_rig_in_each_round_costs_swaps(design: Design) -> None:
    rigs = rigs_of(design)
    together, apart = make_sheet(design, rigs), make_sheet(design, rigs, rounds_apart=True)
    assert (together.counts["card_swaps"], apart.counts["card_swaps"]) == (2, 4)
    assert [session.boot for session in apart.sessions if session.rig == "p1-fast"] == [1, 2, 3, 4]


@settings(
    suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None, max_examples=40
)
@given(data=st.data())
def test_what_was_measured_and_what_remains_are_together_the_whole(
    design: Design, data: st.DataObject
) -> None:
    rigs = rigs_of(design)
    whole = _cells(make_sheet(design, rigs))
    done = {cell: data.draw(st.integers(0, 3)) for cell in sorted(whole)}
    left = make_sheet(design, rigs, progress=Progress(done, last_boot={"p1-fast": 7}))
    assert _cells(left) == +Counter({cell: whole[cell] - done[cell] for cell in whole})
    boots = [session.boot for session in left.sessions if session.rig == "p1-fast"]
    assert boots == list(range(8, 8 + len(boots)))


def test_a_cell_that_is_not_possible_is_not_asked_for_again(design: Design) -> None:
    rigs = rigs_of(design, cards=["slow"])
    gone = frozenset({("p1-slow", "salt-road", "1920x1080", "x16")})
    left = _cells(make_sheet(design, rigs, progress=Progress(not_possible=gone)))
    assert {cell[2:] for cell in left} == {
        ("harbour-dawn", "1920x1080", "x16"),
        ("harbour-dawn", "1920x1080", "x8"),
        ("salt-road", "1920x1080", "x8"),
    }


def test_nothing_left_is_an_empty_sheet(design: Design) -> None:
    rigs = rigs_of(design)
    done = dict(_cells(make_sheet(design, rigs)))
    sheet = make_sheet(design, rigs, progress=Progress(done))
    assert sheet.blocks == ()
    assert counts_text(sheet).startswith("0 measured runs in 0 cells")


def test_unknown_hardware_and_two_rigs_of_one_name_are_refused(design: Design) -> None:
    with pytest.raises(StudyError, match="did you mean 'fast'"):
        rigs_of(design, cards=["fats"])
    rigs = rigs_of(design, cards=["fast"])
    with pytest.raises(StudyError, match="two rigs have the same name"):
        make_sheet(design, rigs * 2)


def test_rows_follow_the_clock_and_text_names_swap_boot_and_run(design: Design) -> None:
    sheet = make_sheet(design, rigs_of(design, cards=["slow"]), seed="1")
    rows = sheet_rows(sheet, design, day_starts="08:00")
    assert rows[0] == {
        "day": 1,
        "starts": "08:29",
        "rig": "p1-slow",
        "platform": "p1",
        "card": "slow",
        "session": "1",
        "boot": 1,
        "round": 1,
        "run": "001",
        "workload": "sentinel-loop",
        "title": "Sentinel loop",
        "resolution": "1920x1080",
        "level": sheet.sessions[0].levels[0],
        "role": "sentinel",
        "pass": 1,
        "minutes": 2.5,
        "reason": None,
    }
    assert [row["starts"] for row in rows] == sorted(row["starts"] for row in rows)
    assert sheet_csv(rows).count("\n") == len(rows) + 1
    text = sheet_text(sheet, day_starts="08:00").splitlines()
    assert text[0] == "Run sheet of link-width, order drawn with seed 1"
    assert text[3] == "Day 1, 08:00 to 09:32 (1 h 32 min)"
    assert text[4] == "  08:00  put slow into p1 (25 min)"
    assert text[5].startswith("  08:25  boot 1 of p1-slow, round 1, level x")
    assert len([line for line in text if "  pass " in line]) == len(rows)


@given(st.integers(0, 23), st.integers(0, 59))
def test_clock_times_read_back(hours: int, minutes: int) -> None:
    assert clock_text(minutes_of(f"{hours}:{minutes}")) == f"{hours:02d}:{minutes:02d}"


@pytest.mark.parametrize("text", ["24:00", "9", "nine", "10:60", "-1:00"])
def test_what_is_no_clock_time_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=r".+"):
        minutes_of(text)
