"""What of the plan has been measured: read from the sets in force of a study."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from rigledger.study.sheet import Progress, rigs_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb

    from rigledger.study.model import Design, PlannedRig

_DONE = """
select rig, round, workload, resolution, level, count(*)
from runs join sessions using (session)
where role = 'measured' and level_state not in ('ineffective', 'unsupported')
  and starts_with(rig, ?)
group by all order by all
"""
_NOT_POSSIBLE = """
select distinct rig, workload, resolution, level
from runs join sessions using (session)
where (role = 'not_possible' or (role = 'measured' and level_state = 'unsupported'))
  and starts_with(rig, ?)
order by all
"""
_RIGS = "select rig, platform, card from rigs where contributor = ? order by rig"
_BOOTS = "select rig, max(boot) from sessions where starts_with(rig, ?) group by rig order by rig"


def progress_of(con: duckdb.DuckDBPyConnection, contributor: str) -> Progress:
    """Give a contributor's progress from the source tables of a connection.

    A measured run counts for its cell whatever the stack and title build; a run whose level was
    seen not to be in force doesn't count; a cell in which a run was not possible is asked for no
    more.

    Args:
        con: Filled by ``load_source``.
        contributor: Whose rigs; their names lose the contributor in front.

    Returns:
        The progress, for `make_sheet`.
    """
    start = f"{contributor}."
    cut = len(start)
    done = con.execute(_DONE, [start]).fetchall()
    not_possible = con.execute(_NOT_POSSIBLE, [start]).fetchall()
    boots = con.execute(_BOOTS, [start]).fetchall()
    return Progress(
        done={(rig[cut:], number, *cell): runs for rig, number, *cell, runs in done},
        not_possible=frozenset((rig[cut:], *cell) for rig, *cell in not_possible),
        last_boot={rig[cut:]: boot for rig, boot in boots},
    )


def planned_rigs(
    con: duckdb.DuckDBPyConnection,
    design: Design,
    contributor: str,
    *,
    platforms: Sequence[str] = (),
    cards: Sequence[str] = (),
) -> list[PlannedRig]:
    """Give every platform with every card, by the names that a contributor's rigs of it have.

    Args:
        con: Filled by ``load_source``.
        design: The study's design.
        contributor: Whose rigs; a pair they have no rig of has the name ``platform-card``.
        platforms: Platforms wanted; empty for all.
        cards: Cards wanted; empty for all.
    """
    cut = len(contributor) + 1
    own: dict[tuple[str, str], list[str]] = {}
    for rig, platform, card in con.execute(_RIGS, [contributor]).fetchall():
        own.setdefault((platform, card), []).append(rig[cut:])
    planned = (
        replace(rig, rig=name)
        for rig in rigs_of(design, platforms, cards)
        for name in own.get((rig.platform, rig.card), [rig.rig])
    )
    return [rig for rig in planned if design.planned_cells([rig])]
