"""What the measured study says of its change of driver, and what it does not."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.audit.opening import open_tables
from rigledger.study.layout import open_study

if TYPE_CHECKING:
    from rigledger.audit.frame import Study

MEASURED = Path(__file__).resolve().parents[2] / "datasets" / "driver-threading"


@pytest.fixture(scope="module")
def measured(tmp_path_factory: pytest.TempPathFactory) -> Study:
    """Give the shifts of a copy, so that nothing is written beside the data."""
    copy = tmp_path_factory.mktemp("measured") / "study"
    shutil.copytree(MEASURED, copy, ignore=shutil.ignore_patterns("releases", "derived"))
    return open_tables(open_study(copy), ("stack_shift",))


def test_the_gain_in_the_many_small_meshes_shrank_with_the_new_driver(measured: Study) -> None:
    """The data set's README has the same figures: +20.2 and +29.5 %, then +3.1 and +4.7 %."""
    found = measured.con.execute("""
        select resolution, round(from_change_pct, 1), round(to_change_pct, 1),
            shift_pct < -10, changed
        from stack_shift
        where level = 'effect' and metric = 'average_fps' and workload = 'many-small-meshes'
        order by resolution
    """).fetchall()
    assert [
        ("1920x1080", 20.2, 3.1, True, "driver_version"),
        ("2560x1440", 29.5, 4.7, True, "driver_version"),
    ] == found


def test_five_passes_in_one_session_a_driver_cant_tell_what_moved(measured: Study) -> None:
    """On rig-a the same gains differ as much between two sessions on one driver."""
    found = measured.con.execute("""
        select contrast, count(*), count(*) filter (moved), bool_and(low_95_pct < 0),
            bool_and(high_95_pct > 0), min(session_basis)
        from stack_shift where metric = 'average_fps' group by contrast order by contrast
    """).fetchall()
    assert [
        ("none", 16, 0, True, True, "measured_rounds"),
        ("on-against-off", 8, 0, True, True, "measured_rounds"),
    ] == found


def test_lows_on_too_few_frames_have_no_verdict(measured: Study) -> None:
    found = measured.con.execute(
        "select distinct no_verdict, moved from stack_shift where metric <> 'average_fps'"
    ).fetchall()
    assert [("insufficient_frames", False)] == found
