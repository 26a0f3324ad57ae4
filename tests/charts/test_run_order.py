"""The runs of a cell in their order: a doubtful one is ringed, named and said to be so."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.charts.run_order import run_order_pictures
from rigledger.charts.source import Choice

if TYPE_CHECKING:
    from rigledger.charts.picture import Picture
    from rigledger.charts.source import Source

CELL = ("bench.q3-52", "kippereen-deep", "1920x1080")


@pytest.fixture
def doubted(source: Source) -> Source:
    """Give the study with one run of a cell flagged as doubtful."""
    con = duckdb.connect()
    for name in ("cells", "runs_wide", "workloads"):
        held = source.con.sql(f'SELECT * FROM "{name}"').to_arrow_table()
        con.register("held", held)
        con.execute(f'CREATE TABLE "{name}" AS FROM held')
    con.execute(
        "UPDATE runs_wide SET doubtful_in = 'average_fps', average_fps = 40 "
        "WHERE run = 'bench.q3-52.2.016'"
    )
    con.execute(
        "UPDATE cells SET doubtful_runs = 1 WHERE rig = 'bench.q3-52' AND level = 'x8' "
        "AND workload = 'kippereen-deep' AND resolution = '1920x1080' AND metric = 'average_fps'"
    )
    con.execute("CREATE VIEW chart_workloads AS SELECT workload, title FROM workloads")
    return replace(source, con=con, choice=Choice(metric="average_fps"))


def only(source: Source) -> Picture:
    (picture,) = run_order_pictures(source)
    return picture


def test_the_doubtful_cell_is_picked_and_its_run_named(doubted: Source) -> None:
    picture = only(doubted)
    assert picture.title == (
        "Kippereen Deep at 1920x1080 on bench.q3-52: one run stands apart (40.00 fps)"
    )
    assert [row["run"] for row in picture.rows if row["doubtful"] == "yes"] == ["bench.q3-52.2.016"]
    assert "016: 40.00 fps" in [text["text"] for text in picture.canvas.texts]
    said = [mark["says"] for mark in picture.canvas.points if "doubtful" in mark["says"]]
    assert said == ["bench.q3-52.2.016, x8: 40.00 fps, doubtful"]


def test_runs_stand_in_the_order_in_which_they_were_made(source: Source) -> None:
    picture = only(replace(source, choice=Choice(metric="average_fps", cells=(CELL,))))
    boots = [row["boot"] for row in picture.rows]
    assert boots == sorted(boots)
    assert picture.title.endswith("no run is flagged as doubtful")


def test_without_a_doubtful_run_the_widest_cell_is_shown(source: Source) -> None:
    rows = source.con.execute(
        "SELECT rig, workload, resolution FROM cells WHERE metric = 'average_fps' AND runs > 1 "
        "ORDER BY spread_pct DESC NULLS LAST LIMIT 1"
    ).fetchall()
    doubtful = source.con.execute("SELECT sum(doubtful_runs) FROM cells").fetchall()
    assert doubtful == [(0,)]
    picture = only(replace(source, choice=Choice(metric="average_fps")))
    rig, workload, resolution = rows[0]
    assert picture.name == f"runs.{workload}.{resolution}.{rig}.average_fps"
