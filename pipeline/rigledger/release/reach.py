"""What a release may hold: only what its own sets reach, and nothing of a set under embargo."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.release.errors import ReleaseError
from rigledger.study.model import TitleSet
from rigledger.tabular import count_rows

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from datetime import date

    import duckdb

    from rigledger.study.model import Design, PlanPart

_SQL = Path(__file__).parent / "sql" / "reachable"
_IN_ORDER = (
    "sets", "sessions", "runs", "facts", "measurements", "captures", "corrections", "stacks",
    "rigs", "contributors", "platforms", "cards", "workloads", "plausible_ranges",
    "superseded_values",
)  # fmt: skip
# Every row of the long tables hangs on one of another table, and is left where all of those are.
_HANGS_ON = {"runs": "sessions", "facts": "sessions", "measurements": "runs"}


@dataclass(frozen=True, slots=True)
class Reach:
    """What is left of a study.

    Attributes:
        design: The design without the models and workloads that no published set reaches.
        left_out: How many rows of a table are not in the release, by table; zeros are not listed.
    """

    design: Design
    left_out: Mapping[str, int]


def restrict(con: duckdb.DuckDBPyConnection, design: Design, released_on: date) -> Reach:
    """Leave in the source tables, and in the design, only what a release of that day may hold.

    Args:
        con: Connection with the source tables; they are replaced.
        design: The study's design.
        released_on: Day of the release: sets with a later ``embargo_until`` are left out.

    Returns:
        The design that is left, and counts of what is not.

    Raises:
        ReleaseError: No run, or no part of the plan, is left.
    """
    left, left_out = _left_out(con, released_on)
    if not left["runs"]:
        raise ReleaseError(
            "no set of the study may be published on this day, or none holds a run",
            column="released_on", value=released_on.isoformat(),
            next_step="admit a set first, or choose a day on which no embargo holds",
        )  # fmt: skip
    restricted = restricted_design(
        design, *(_keys(con, name) for name in ("platforms", "cards", "workloads"))
    )
    people = _keys(con, "contributors")
    return Reach(
        replace(
            restricted,
            relations=tuple(
                held for held in design.relations if {held.contributor, held.counts_with} <= people
            ),
        ),
        {name: count for name, count in sorted(left_out.items()) if count},
    )


def _left_out(
    con: duckdb.DuckDBPyConnection, released_on: date
) -> tuple[dict[str, int], dict[str, int]]:
    """Leave in each table what may be published; count its rows that may, and that may not."""
    before = count_rows(con, _IN_ORDER)
    left = dict(before)
    for name in _IN_ORDER:
        led = _HANGS_ON.get(name)
        # Nothing is copied that stays as it is: a million rows take a while, and lose their order.
        if led is None or left[led] < before[led]:
            left[name] = _keep(con, name, released_on)
    return left, {name: before[name] - left[name] for name in _IN_ORDER}


def _keep(con: duckdb.DuckDBPyConnection, table: str, released_on: date) -> int:
    query = (_SQL / f"{table}.sql").read_text(encoding="utf-8")
    parameters = {"released_on": released_on.isoformat()} if "$released_on" in query else {}
    made = con.execute(f"CREATE OR REPLACE TABLE {table} AS {query}", parameters)
    ((rows,),) = made.fetchall()
    return int(rows)


def _keys(con: duckdb.DuckDBPyConnection, table: str) -> frozenset[str]:
    rows = con.execute(f"SELECT {table.removesuffix('s')} FROM {table}").fetchall()
    return frozenset(str(key) for (key,) in rows)


def restricted_design(
    design: Design,
    platforms: Collection[str],
    cards: Collection[str],
    workloads: Collection[str],
) -> Design:
    """Leave out of a design the platforms, cards and workloads that are not named.

    Raises:
        ReleaseError: No part of the plan is left.
    """
    kept_cards = tuple(held for held in design.cards if held.card in cards)
    narrowed = (
        _narrowed(part, platforms, {held.card: held.card_class for held in kept_cards}, workloads)
        for part in design.plan
    )
    plan = tuple(part for part in narrowed if part is not None)
    if not plan:
        raise ReleaseError(
            "no part of the plan names anything that this release holds",
            file="study.toml", column="plan",
            next_step="add a [[plan]] that covers the rigs and workloads of the admitted sets",
        )  # fmt: skip
    kept = tuple(held for held in design.workloads if held.workload in workloads)
    return replace(
        design,
        platforms=tuple(held for held in design.platforms if held.platform in platforms),
        cards=kept_cards,
        workloads=kept,
        plausible_ranges=tuple(h for h in design.plausible_ranges if h.workload in workloads),
        plan=plan,
        sentinels=tuple(held for held in design.sentinels if held.workload in workloads),
        title_sets=_title_sets(design, workloads),
    )


def _narrowed(
    part: PlanPart,
    platforms: Collection[str],
    classes: Mapping[str, str],
    workloads: Collection[str],
) -> PlanPart | None:
    """Give a plan part without names that are gone; None where a list of names becomes empty."""
    narrowed = replace(
        part,
        platforms=_only(part.platforms, platforms),
        cards=_only(part.cards, classes),
        card_classes=_only(part.card_classes, set(classes.values())),
        workloads=_only(part.workloads, workloads),
    )
    lists = (narrowed.platforms, narrowed.cards, narrowed.card_classes, narrowed.workloads)
    return None if () in lists else narrowed


def _only(names: tuple[str, ...] | None, kept: Collection[str]) -> tuple[str, ...] | None:
    return None if names is None else tuple(name for name in names if name in kept)


def _title_sets(design: Design, workloads: Collection[str]) -> tuple[TitleSet, ...]:
    narrowed = (
        TitleSet(held.title_set, _only(held.workloads, workloads) or ())
        for held in design.title_sets
    )
    kept = tuple(held for held in narrowed if held.workloads)
    every = tuple(
        h.workload for h in design.workloads if h.setting_can_act and h.workload in workloads
    )
    return kept or (TitleSet("all", every),)
