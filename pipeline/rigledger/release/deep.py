"""Makes the source tables and findings of a release again from the sets as they were handed in.

A release holds no set as handed in. With the study's folder at hand, its sets are held against the
hashes that the release names, checked again by every rule, and read again into source tables, by
the design and the corrections that are in the release itself.
"""

from __future__ import annotations

import shutil
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import tomli_w

from rigledger.contract.sql_text import identifier
from rigledger.database import connect
from rigledger.errors import RigledgerError
from rigledger.files import write_text
from rigledger.release.compare import cell_differences
from rigledger.release.findings import fill_findings
from rigledger.release.folder import STUDY
from rigledger.release.outcome import Difference
from rigledger.release.published import source_tables
from rigledger.release.reach import restrict
from rigledger.release.set_findings import findings_of
from rigledger.study.admitted import check_unaltered
from rigledger.study.decisions import Decision, Decisions, read_decisions, write_decisions
from rigledger.study.layout import StudyFolder, open_study
from rigledger.study.load import load_source
from rigledger.tabular import column_names, read_text, text_select, type_text, write_csv

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    import duckdb

    from rigledger.contract.model import Contract, Table
    from rigledger.release.published import Published

FINDINGS = "quality/findings.csv"


@dataclass(frozen=True, slots=True)
class _Inputs:
    """What making a release again starts from."""

    con: duckdb.DuckDBPyConnection
    folder: Path
    scratch: Path
    contract: Contract
    released_on: date
    report: Callable[[str], None]
    published: tuple[Published, ...]


def sets_again(
    con: duckdb.DuckDBPyConnection,
    folder: Path,
    study: Path,
    *,
    scratch: Path,
    contract: Contract,
    released_on: date,
    report: Callable[[str], None],
    published: tuple[Published, ...] | None = None,
) -> list[Difference]:
    """Hold the sets of a study against a release: hashes, findings, every source row.

    Args:
        con: Connection with the tables of the release.
        folder: The release.
        study: The study's folder, with its sets and decisions.
        scratch: Folder of ours.
        contract: The contract.
        released_on: Day of the release.
        report: Told what is done next.
        published: The release's source tables, with its own columns; None for the contract's.

    Returns:
        Sets that are missing or other ones, findings and source values that don't follow.

    Raises:
        StudyError: There is no study, or its decisions can't be read.
    """
    held = published or source_tables(contract)
    inputs = _Inputs(con, folder, scratch, contract, released_on, report, held)
    place = open_study(study)
    decisions = _decisions(con, read_decisions(place.decisions, contract))
    found = _set_differences(con, place, decisions)
    if found:
        return found
    again = _rebuild_study(inputs, place, decisions)
    try:
        return [*_finding_differences(inputs, again), *_source_differences(inputs, again)]
    except RigledgerError as error:
        says = f"the sets can't be read again: {str(error).splitlines()[0]}"
        return [Difference("unreadable", "data", says)]


def _decisions(con: duckdb.DuckDBPyConnection, held: Decisions) -> Decisions:
    """Leave those decisions that the release names, as it names them."""
    rows = con.execute("SELECT set_id, state FROM sets").fetchall()
    states = {str(name): str(state) for name, state in rows}
    decisions = tuple(
        replace(item, supersedes=item.supersedes if item.supersedes in states else None)
        for item in held.decisions
        if item.set_id in states
    )
    gone = {name for name, state in states.items() if state == "withdrawn"}
    return Decisions(decisions, tuple(item for item in held.withdrawals if item.set_id in gone))


def _set_differences(
    con: duckdb.DuckDBPyConnection, place: StudyFolder, decisions: Decisions
) -> list[Difference]:
    rows = con.execute("SELECT set_id, sha256 FROM sets ORDER BY set_id").fetchall()
    found = []
    for set_id, recorded in rows:
        decision = decisions.decision(set_id)
        here = decision.sha256 if decision else None
        if here != recorded:
            says = "the study holds this set with another hash" if here else "no such set is here"
            found.append(
                Difference("set_differs", "data/sets.csv", says, f"set_id={set_id}", "sha256",
                           recorded, here)
            )  # fmt: skip
    return found or [
        Difference("set_differs", "data/sets.csv", problem, f"set_id={item.set_id}")
        for item in _needed(decisions)
        if (problem := _altered(place, item))
    ]


def _needed(decisions: Decisions) -> list[Decision]:
    """List the sets whose files a release is made from: those in force, and what they replaced."""
    return [item for item in decisions.decisions if decisions.state(item.set_id) != "withdrawn"]


def _altered(place: StudyFolder, decision: Any) -> str | None:  # noqa: ANN401 - a Decision
    try:
        check_unaltered(place, decision)
    except RigledgerError as error:
        return error.message
    return None


def _rebuild_study(inputs: _Inputs, place: StudyFolder, decisions: Decisions) -> StudyFolder:
    """Lay out a study of the release's own design and corrections, and the sets it names."""
    again = StudyFolder(inputs.scratch / "study")
    again.sets.mkdir(parents=True)
    shutil.copyfile(inputs.folder / STUDY, again.toml)
    for item in _needed(decisions):
        shutil.copytree(place.set_folder(item.set_id), again.set_folder(item.set_id))
    write_decisions(again.decisions, decisions)
    names = column_names(inputs.con, "corrections")
    rows = inputs.con.execute("SELECT * FROM corrections ORDER BY correction").fetchall()
    stated = [
        {name: value for name, value in zip(names, row, strict=True) if value is not None}
        for row in rows
    ]
    write_text(again.corrections, tomli_w.dumps({"corrections": stated}))
    return again


def _finding_differences(inputs: _Inputs, again: StudyFolder) -> list[Difference]:
    inputs.report("checking each set again")
    shared = inputs.scratch / "shared"
    shared.mkdir()
    findings = list(findings_of(again, inputs.released_on, shared))
    table, con = inputs.contract.table("derived", "findings"), inputs.con
    con.execute(f"CREATE OR REPLACE TEMP TABLE _recorded AS {text_select(table)}")
    con.execute("ALTER TABLE findings RENAME TO recorded_findings")
    try:
        fill_findings(con, inputs.contract, findings)
        con.execute(f"CREATE OR REPLACE TEMP TABLE _again AS {text_select(table)}")
    finally:
        con.execute("DROP TABLE IF EXISTS findings")
        con.execute("ALTER TABLE recorded_findings RENAME TO findings")
    rows = con.execute(
        """
        SELECT set_id, rule, 'no rule says so of the set'
        FROM (FROM _recorded EXCEPT ALL FROM _again)
        UNION ALL
        SELECT set_id, rule, 'a rule says so of the set, and it is not listed'
        FROM (FROM _again EXCEPT ALL FROM _recorded)
        ORDER BY ALL
        """
    ).fetchall()
    return [
        Difference("value_differs", FINDINGS, says, f"set_id={set_id} rule={rule}")
        for set_id, rule, says in rows
    ]


def _source_differences(inputs: _Inputs, again: StudyFolder) -> list[Difference]:
    inputs.report("reading each set again")
    with connect() as made:
        design = load_source(again, made, inputs.contract)
        restrict(made, design, inputs.released_on)
        return [
            found
            for held in inputs.published
            for found in _table_differences(inputs, made, held.table, held.csv)
        ]


def _table_differences(
    inputs: _Inputs, made: duckdb.DuckDBPyConnection, table: Table, csv: str
) -> list[Difference]:
    file = inputs.scratch / "again.csv"
    write_csv(made, table, file)
    if file.read_bytes() == (inputs.folder / csv).read_bytes():
        return []
    again = f"again_{table.name}"
    read_text(inputs.con, file, table.field_names, f"text_{again}")
    type_text(inputs.con, table, f"text_{again}", again)
    cells = cell_differences(inputs.con, table, table.name, again)
    for name in (again, f"text_{again}"):
        inputs.con.execute(f"DROP TABLE {identifier(name)}")
    says = "is not what the sets as handed in give"
    return [
        Difference("set_differs", csv, says, cell.key, cell.column, cell.left, cell.right)
        for cell in cells
    ]
