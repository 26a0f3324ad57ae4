"""The frame of a re-test: which cells can be held against it, and which can't."""

from __future__ import annotations

import datetime as dt
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from rigledger.audit.change import Change, announce
from rigledger.audit.errors import NothingToRetestError
from rigledger.audit.frame import Frame, Study, read_frame
from rigledger.audit.line import rig_lines
from rigledger.audit.opening import open_tables
from rigledger.statistics.detection import Retest

if TYPE_CHECKING:
    from conftest import Bench

LIMITS = np.array([0.05, 0.005])
DRIVER = Change((("driver_version", "2.0"),), (), dt.date(2026, 10, 20))


@pytest.fixture
def study(bench: Bench) -> Study:
    return open_tables(bench.study, ())


def framed(study: Study, change: Change = DRIVER) -> Frame:
    announced = announce(change, rig_lines(study.con, study.contract))
    return read_frame(study, announced, "average_fps", Retest(3, 1, 5.0), LIMITS, budget=20)


def test_every_touched_cell_is_in_it_with_its_power_at_each_limit(study: Study) -> None:
    frame = framed(study)
    assert (32, (), (("anna", "declared"),)) == (len(frame.cells), frame.left_out, frame.basis)
    assert all(1 >= cell.power[0] >= cell.power[1] > 0.9 for cell in frame.cells)
    assert (3, 2) == frame.promised.shape
    assert frame.promised[0, 0] > frame.promised[1, 0] > frame.promised[2, 0]


def test_a_titles_build_touches_that_title_alone(study: Study) -> None:
    frame = framed(study, Change((), (("tide", "2"),), DRIVER.since))
    assert {"tide"} == {cell.workload for cell in frame.cells}


def test_a_contributor_with_one_run_has_nothing_to_hold_a_re_test_against(study: Study) -> None:
    study.con.execute("""
        create or replace table runs as select * from runs
        where starts_with(run, 'anna.one.') order by run limit 1
    """)
    with pytest.raises(NothingToRetestError, match="fewer than two runs") as caught:
        framed(study)
    assert "session_spread_pct" in str(caught.value.next_step)


def test_nothing_is_promised_where_nobody_knows_what_a_boot_does(study: Study) -> None:
    unknown = replace(study, design=replace(study.design, session_spread_pct=None))
    with pytest.raises(NothingToRetestError, match="neither measured nor declared"):
        framed(unknown)
