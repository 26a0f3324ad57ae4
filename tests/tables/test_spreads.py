"""Spreads for planning are those that were measured, title by title."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.study.model import PlannedRig
from rigledger.study.sheet_power import Spread
from rigledger.tables.spreads import measured_spreads

if TYPE_CHECKING:
    from conftest import Ledger

RIGS = [PlannedRig("mine", "fast", "big"), PlannedRig("other", "slow", "big")]
ROWS = """
create table rigs as
select 'anna.one' as rig, 'anna' as contributor, 'fast' as platform, 'big' as card;
create table workloads as
select unnest(['dawn', 'mist', 'idle']) as workload, unnest([true, true, false]) as setting_can_act;
create table repeatability as
select 'anna.one' as rig, workload, 'average_fps' as metric, run_spread_pct
from (values ('dawn', 3e0), ('mist', 4e0), ('idle', 99e0)) as t(workload, run_spread_pct);
create table spread_models as
select 'anna' as contributor, 'average_fps' as metric, 'cell_sessions.absolute_pct' as parameter,
       0.4e0 as value, 'measured_rounds' as basis;
"""


@pytest.fixture
def con() -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    con.execute(ROWS)
    return con


def test_a_mean_over_titles_has_the_root_mean_square_of_their_spreads(
    ledger: Ledger, con: duckdb.DuckDBPyConnection
) -> None:
    spread = measured_spreads(con, ledger.design, RIGS)["mine"]
    between = 0.0 if ledger.design.levels_share_sessions else 0.4
    assert spread.over(["dawn"]) == Spread(3.0, between)
    assert spread.over(["dawn", "mist"]) == Spread(math.sqrt(12.5), between)


def test_a_title_or_rig_that_was_not_measured_is_taken_to_be_like_the_others(
    ledger: Ledger, con: duckdb.DuckDBPyConnection
) -> None:
    spreads = measured_spreads(con, ledger.design, RIGS)
    assert spreads["other"].over(["dawn", "mist"]) == spreads["mine"].over(["dawn", "mist"])
    assert spreads["mine"].over(["rain"]).run_pct == pytest.approx(math.sqrt(12.5))


def test_where_nothing_was_measured_there_is_none(
    ledger: Ledger, con: duckdb.DuckDBPyConnection
) -> None:
    con.execute("delete from repeatability")
    assert measured_spreads(con, ledger.design, RIGS) == {}
