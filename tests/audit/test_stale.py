"""What rests on an old version, from a few comparisons."""

from __future__ import annotations

import datetime as dt

import duckdb

from rigledger.audit.change import Change, announce
from rigledger.audit.line import BuildOnRig, RigLine, StackOnRig
from rigledger.audit.stale import Stale, find_stale, with_releases

DAY, LATER = dt.date(2026, 10, 5), dt.date(2026, 10, 9)


def line(rig: str, driver: str, since: dt.date = DAY) -> RigLine:
    held = StackOnRig(
        rig, f"anna.{driver}", since, since, 1, 1, (f"anna.{rig}",), {"driver_version": driver}
    )
    builds = (BuildOnRig(rig, "dawn", "1", since, since), BuildOnRig(rig, "mist", "1", DAY, DAY))
    return RigLine(rig, (held,), builds)


LINES = (line("one", "1.0"), line("two", "1.5", LATER), line("new", "2.0"))


def stale(change: Change) -> Stale:
    """Hold a change against two titles on three rigs; dawn has a material change."""
    con = duckdb.connect()
    con.execute(
        "create table stacks as select * from (values ('anna.1.0', 'anna', '1.0'),"
        " ('anna.1.5', 'anna', '1.5'), ('anna.2.0', 'anna', '2.0'))"
        " as t(stack, contributor, driver_version)"
    )
    con.execute("""
        create table comparisons as
        select rig, stack, workload, '1' as title_build, '1920x1080' as resolution,
            'x8-against-x16' as contrast, 'average_fps' as metric, 'x16' as from_level,
            'x8' as to_level, -5.0 as change_pct, 'loss' as direction,
            if(workload = 'dawn', 'material', 'immaterial') as size, false as stale,
            workload <> 'old' as current
        from (values ('one', 'anna.1.0'), ('two', 'anna.1.5'), ('new', 'anna.2.0'))
            as r(rig, stack),
            (values ('dawn'), ('mist'), ('old')) as w(workload)
    """)
    return find_stale(con, announce(change, LINES))


def test_a_driver_makes_what_was_measured_on_older_ones_stale_rig_by_rig() -> None:
    found = stale(Change((("driver_version", "2.0"),), (), LATER))
    assert (6, 4) == (found.comparisons, found.resting)
    assert [
        ("one", (("driver_version", "1.0"),), DAY, 2, 1, 2),
        ("two", (("driver_version", "1.5"),), LATER, 2, 1, 2),
    ] == [(r.rig, r.was, r.since, r.comparisons, r.material, r.of_rig) for r in found.rigs]


def test_a_titles_build_makes_that_title_stale_alone() -> None:
    found = stale(Change((), (("dawn", "2"),), LATER))
    assert [("one", 1, DAY), ("two", 1, LATER), ("new", 1, DAY)] == [
        (held.rig, held.comparisons, held.since) for held in found.rigs
    ]


def test_the_first_release_that_held_it_is_named() -> None:
    releases = [("1.0.0", frozenset({"anna.one"})), ("1.1.0", frozenset({"anna.one", "anna.two"}))]
    found = with_releases(stale(Change((("driver_version", "2.0"),), (), LATER)), releases)
    assert ["1.0.0", "1.1.0"] == [held.published_since for held in found.rigs]
