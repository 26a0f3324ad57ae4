"""What a kit holds: the rows of an empty result set, filled in as far as the plan knows them."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rigledger.errors import StudyError, near_names

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rigledger.contract import Contract, Field, Table
    from rigledger.study.model import Design, PlannedRig
    from rigledger.study.sheet_model import Sheet, SheetRun, SheetSession

Row = dict[str, Any]
# What the sheet knows, what a person types in, and what they may add.
_RUNS_KNOWN = ("rig", "session", "run", "workload", "resolution", "level", "role", "pass")
_RUNS_TYPED = ("title_build", "level_state")
_RUNS_OPTIONAL = ("level_check", "reason", "started_at", "duration_s")
_RUNS_CAPTURES = ("capture_file", "capture_from_s", "capture_for_s")


@dataclass(frozen=True, slots=True)
class Tester:
    """Who gets the kit.

    Attributes:
        contributor: Short name, the first part of all ids.
        set_name: The contributor's own name of the set.
        shown_name: Name to be listed under; None to be typed in.
        utc_offset: Offset of all times that state none; None to be typed in.
        supersedes: Set of the same contributor that the new one will replace.
    """

    contributor: str
    set_name: str
    shown_name: str | None = None
    utc_offset: str | None = None
    supersedes: str | None = None


@dataclass(frozen=True, slots=True)
class KitTable:
    """One table of the kit: its contract, the columns it shows, and the rows filled in."""

    table: Table
    columns: tuple[Field, ...]
    rows: tuple[Row, ...]

    @property
    def name(self) -> str:
        """Name of the table, its file and its sheet."""
        return self.table.name

    def place(self, column: str) -> int:
        """Give the position of a column, from 0."""
        return [held.name for held in self.columns].index(column)


@dataclass(frozen=True, slots=True)
class Kit:
    """An empty result set for one tester.

    Attributes:
        set: The row of the table ``set``; what is to be typed in is None.
        tables: ``rigs``, ``sessions``, ``runs``, and ``platforms`` and ``cards`` where a rig has
            one that the study doesn't list.
    """

    design: Design
    contract: Contract
    sheet: Sheet
    set: Row
    tables: tuple[KitTable, ...]

    def table(self, name: str) -> KitTable:
        """Give one table by name; KeyError where the kit has none."""
        for held in self.tables:
            if held.name == name:
                return held
        raise KeyError(name)

    def with_rows(self, name: str, rows: Sequence[Row]) -> Kit:
        """Give the kit with other rows in one table."""
        tables = (
            replace(held, rows=tuple(rows)) if held.name == name else held for held in self.tables
        )
        return replace(self, tables=tuple(tables))


def make_kit(
    design: Design,
    contract: Contract,
    rigs: Sequence[PlannedRig],
    sheet: Sheet,
    *,
    tester: Tester,
    captures: bool = False,
) -> Kit:
    """Make the rows of a kit.

    Args:
        design: The study's design.
        contract: The contract.
        rigs: The tester's rigs, as given to ``make_sheet``.
        sheet: Their run sheet.
        tester: Who gets it.
        captures: Whether the runs have columns for captures.

    Returns:
        The kit: every planned session and run, once.

    Raises:
        StudyError: The plan asks nothing of a rig, or a name of the tester or a rig isn't legal.
    """
    _refuse_idle(design, rigs, sheet)
    tables = [
        _rigs(contract, rigs),
        _sessions(contract, sheet),
        _runs(design, contract, sheet, captures=captures),
        *_proposals(design, contract, rigs),
    ]
    return Kit(design, contract, sheet, _set_row(design, contract, tester), tuple(tables))


def _refuse_idle(design: Design, rigs: Sequence[PlannedRig], sheet: Sheet) -> None:
    planned = {block.rig for block in sheet.blocks}
    for rig in rigs:
        if rig.rig not in planned:
            cards = [held.card for held in design.cards]
            raise StudyError(
                f"the sheet asks nothing of the rig {rig.rig} ({rig.platform} with {rig.card})",
                file="study.toml",
                column="plan",
                value=rig.card,
                next_step=near_names(rig.card, cards) or None,
            )


def _set_row(design: Design, contract: Contract, tester: Tester) -> Row:
    from rigledger.study.section import problem_with

    table = contract.table("handed_in", "set")
    row: Row = dict.fromkeys(table.field_names) | {
        "set": tester.set_name,
        "contributor": tester.contributor,
        "shown_name": tester.shown_name,
        "study": design.study,
        "licence": design.licence,
        "consent_version": design.consent_version,
        "utc_offset": tester.utc_offset,
        "supersedes": tester.supersedes,
    }
    for name, value in row.items():
        problem = None if value is None else problem_with(table.field(name), value)
        if problem:
            raise StudyError(problem, column=name, value=str(value))
    return row


def _rigs(contract: Contract, rigs: Sequence[PlannedRig]) -> KitTable:
    table = contract.table("handed_in", "rigs")
    rows = [{"rig": rig.rig, "platform": rig.platform, "card": rig.card} for rig in rigs]
    return _filled(table, table.field_names, rows)


def _sessions(contract: Contract, sheet: Sheet) -> KitTable:
    table = contract.table("handed_in", "sessions")
    rows = [_session_row(session) for session in sheet.sessions]
    return _filled(table, table.field_names, rows)


def _session_row(session: SheetSession) -> Row:
    return {
        "rig": session.rig,
        "session": session.session,
        "boot": session.boot,
        "round": session.round,
    }


def _runs(design: Design, contract: Contract, sheet: Sheet, *, captures: bool) -> KitTable:
    metrics = design.all_metrics
    further = _RUNS_CAPTURES if captures else ()
    columns = (*_RUNS_KNOWN, *_RUNS_TYPED, *metrics, *_RUNS_OPTIONAL, *further)
    rows = [_run_row(session, run) for session in sheet.sessions for run in session.runs]
    return _filled(contract.wide("handed_in", "runs", metrics), columns, rows)


def _run_row(session: SheetSession, run: SheetRun) -> Row:
    return {
        "rig": session.rig,
        "session": session.session,
        "run": run.run,
        "workload": run.workload,
        "resolution": run.resolution,
        "level": run.level,
        "role": run.role,
        "pass": run.pass_number,
    }


def _proposals(design: Design, contract: Contract, rigs: Sequence[PlannedRig]) -> list[KitTable]:
    """Give tables for platforms and cards that the study doesn't list yet."""
    known_platforms = {held.platform for held in design.platforms}
    known_cards = {held.card for held in design.cards}
    platforms: dict[str, Row] = {rig.platform: {"platform": rig.platform} for rig in rigs}
    cards: dict[str, Row] = {rig.card: {"card": rig.card, "class": rig.card_class} for rig in rigs}
    proposed: dict[str, list[Row]] = {
        "platforms": [row for name, row in platforms.items() if name not in known_platforms],
        "cards": [row for name, row in cards.items() if name not in known_cards],
    }
    tables = {name: contract.table("handed_in", name) for name in proposed}
    return [
        _filled(tables[name], tables[name].field_names, rows)
        for name, rows in proposed.items()
        if rows
    ]


def _filled(table: Table, columns: Sequence[str], rows: Sequence[Row]) -> KitTable:
    fields = tuple(table.field(name) for name in columns)
    blank: Row = dict.fromkeys(columns)
    return KitTable(table, fields, tuple(blank | row for row in rows))


def words_of(kit: Kit, column: Field) -> tuple[str, ...]:
    """Give the words that a column may hold here: the study's names, else its vocabulary's.

    The role ``excluded`` is left out: a correction gives it, nobody hands it in.
    """
    design = kit.design
    names = {
        "platform": [held.platform for held in design.platforms],
        "card": [held.card for held in design.cards],
        "workload": [held.workload for held in design.workloads],
        "level": [held.level for held in design.ranked_levels],
        "rig": [row["rig"] for row in kit.table("rigs").rows],
    }
    legal = names.get(column.name, column.enum)
    proposed = [row[column.name] for row in _proposed_rows(kit, column.name)]
    return tuple(word for word in (*legal, *proposed) if word != "excluded")


def _proposed_rows(kit: Kit, column: str) -> tuple[Row, ...]:
    held = [table for table in kit.tables if table.name == f"{column}s" and column != "rig"]
    return held[0].rows if held else ()
