"""Checks the tables of a set by themselves: cells and keys, cast, and what is wrong set apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.intake.readset import wide_tables
from rigledger.intake.texttable import LONG
from rigledger.intake.typed import cast_tables, forget_rows, forget_text, forget_values, make_long
from rigledger.intake.values import Look, check_values, look_at

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping
    from concurrent.futures import Future

    import duckdb

    from rigledger.contract.model import Contract
    from rigledger.intake.found import Found
    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet
    from rigledger.intake.value_words import StudyNames
    from rigledger.side import Side
    from rigledger.study.model import Design


def check_tables(
    con: duckdb.DuckDBPyConnection,
    side: Side,
    held: TextSet,
    found: Found,
    log: FindingLog,
    *,
    design: Design | None,
) -> Future[None]:
    """Check cells and keys of every table; create ``handed.*`` and the rest of ``study.*``.

    Args:
        con: The database, with the set as text and what follows from the design alone.
        side: Where the other tables are cast while those of the runs are checked.
        held: The set as text.
        found: Takes the cells that can't be used.
        log: Takes a finding for every violation.
        design: The study's design; None where the set is held against none.

    Returns:
        Is done when ``study.planned`` is there.
    """
    wide = wide_tables(log.contract)
    names = {} if design is None else _names_of(design)

    def lost_of(tables: Collection[str], look: Look | None = None) -> dict[str, list[int]]:
        return {
            name: check_values(con, held, wide[name], found, log, names=names, look=look)
            for name in tables
            if name in held.tables
        }

    def look_at_runs(con: duckdb.DuckDBPyConnection) -> Look | None:
        return look_at(con, held, wide["runs"]) if "runs" in held.tables else None

    others = [name for name in wide if name != "runs"]
    look = side.begin(look_at_runs)
    lost = lost_of(others)
    sound = _sound(held, found, lost)

    def cast_others(con: duckdb.DuckDBPyConnection) -> None:
        _cast(con, held, log.contract, others, found=found, lost=lost, sound=sound)
        if design is not None:
            from rigledger.intake.study_tables import make_study

            make_study(con, design, held.tables)

    beside = side.begin(cast_others)
    lost_runs = lost_of(["runs"], look.result())
    sound_runs = _sound(held, found, lost_runs)
    beside.result()
    whole = _cast(con, held, log.contract, ["runs"], found=found, lost=lost_runs, sound=sound_runs)
    make_long(con, held, log.contract, sound=sound_runs.get("runs", ()))
    if not whole and side.pool is not None:
        forget_text(con)
    return side.begin(lambda con: None if design is None else _plan_cells(con, design))


def _plan_cells(con: duckdb.DuckDBPyConnection, design: Design) -> None:
    from rigledger.intake.study_tables import plan_cells

    plan_cells(con, design)


def _names_of(design: Design) -> StudyNames:
    """Give the names that the study has for a column, by what a person may write instead."""
    return {
        "workload": {held.title: held.workload for held in design.workloads},
        "level": {held.title: held.level for held in design.levels},
        "platform": {held.processor: held.platform for held in design.platforms},
        "card": {held.model: held.card for held in design.cards},
    }


def _sound(held: TextSet, found: Found, lost: Mapping[str, list[int]]) -> dict[str, set[str]]:
    """Give the columns of the tables that were checked in which nothing is wrong."""
    return {
        name: set(held.present[name]) - found.columns(name)
        for name, rows in lost.items()
        if not rows
    }


def _cast(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    contract: Contract,
    tables: Collection[str],
    *,
    found: Found,
    lost: Mapping[str, list[int]],
    sound: Mapping[str, Collection[str]],
) -> list[str]:
    """Create ``handed.<table>`` of some tables without what is wrong; gives the flawless ones."""
    whole = [
        name
        for name, columns in sound.items()
        if held.tables[name].rows >= LONG
        and columns == set(held.present[name])
        and not held.manifest.captures  # they may give values to fill in
    ]
    cast_tables(con, held, contract, tables, sound=sound, whole=whole)
    for name, rows in lost.items():
        forget_rows(con, held, name, rows)
    forget_values(con, held, found, tables)
    return whole
