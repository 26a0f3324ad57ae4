"""Odd cells are measured again in a further round that the study allowed beforehand."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.study.sheet import Progress, make_sheet, rigs_of
from rigledger.study.sheet_again import Again, make_again_sheet
from rigledger.study.sheet_rows import sheet_text

if TYPE_CHECKING:
    from rigledger.study.model import Design

ODD = Again("p1-fast", "salt-road", "2560x1440", "first run slower than the rest")


def _progress(design: Design, *, rounds: int = 2) -> Progress:
    sheet = make_sheet(design, rigs_of(design))
    done = {
        (held.rig, number, run.workload, run.resolution, run.level): 2
        for held in sheet.sessions
        for run in held.runs
        for number in range(1, rounds + 1)
    }
    return Progress(done, last_boot={"p1-fast": 4, "p1-slow": 4})


def test_a_cell_is_measured_again_at_every_level_in_new_sessions_of_a_further_round(
    design: Design,
) -> None:
    sheet = make_again_sheet(design, rigs_of(design), [ODD], progress=_progress(design))
    assert [(held.rig, held.boot, held.round) for held in sheet.sessions] == [
        ("p1-fast", 5, 3),
        ("p1-fast", 6, 3),
    ]
    runs = [run for run in sheet.runs if run.role == "measured"]
    assert sorted((run.level, run.pass_number) for run in runs) == [
        ("x16", 1),
        ("x16", 2),
        ("x8", 1),
        ("x8", 2),
    ]
    assert {(run.workload, run.resolution, run.reason) for run in runs} == {
        ("salt-road", "2560x1440", ODD.reason)
    }
    assert sheet.counts["sentinel_runs"] == 4
    assert "again: first run slower than the rest" in sheet_text(sheet)


def test_rounds_beyond_those_allowed_are_refused(design: Design) -> None:
    with pytest.raises(StudyError, match="has had all 3 rounds that the study allows"):
        make_again_sheet(design, rigs_of(design), [ODD], progress=_progress(design, rounds=3))
    none = replace(design, rounds_may_be_added=0)
    with pytest.raises(StudyError, match="has had all 2 rounds"):
        make_again_sheet(none, rigs_of(none), [ODD], progress=_progress(design))


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"workload": "salt-raod"}, "did you mean 'p1-fast salt-road 2560x1440'"),
        ({"resolution": "3840x2160"}, "the plan has no such cell"),
        ({"reason": " "}, "without a reason"),
    ],
)
def test_what_can_not_be_measured_again_is_refused(
    design: Design, change: dict[str, str], said: str
) -> None:
    wanted = [replace(ODD, **change)]
    with pytest.raises(StudyError, match=said):
        make_again_sheet(design, rigs_of(design), wanted, progress=_progress(design))
