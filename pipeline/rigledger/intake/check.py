"""The whole intake: gate, read, values, rules, captures, verdict. Changes nothing."""

from __future__ import annotations

import tempfile
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.contract.load import load_contract
from rigledger.contract.sql_text import identifier
from rigledger.intake.admitted import make_admitted
from rigledger.intake.capture_check import compare_captures, measure_captures
from rigledger.intake.cells import make_capped, make_cells, present_metrics
from rigledger.intake.database import are_small, locked_database
from rigledger.intake.file_names import at_captures
from rigledger.intake.found import Found, note
from rigledger.intake.gate import GateResult, inspect
from rigledger.intake.handover import begun
from rigledger.intake.log import FindingLog
from rigledger.intake.patterns import find_patterns
from rigledger.intake.personal import find_personal
from rigledger.intake.readset import TextSet, read_set, wide_tables
from rigledger.intake.recomputed import fill_from_captures
from rigledger.intake.result import CheckResult, NotRun, verdict_on
from rigledger.intake.rules import run_rules
from rigledger.intake.signature import check_signature
from rigledger.intake.table_check import check_tables
from rigledger.intake.values import unusable_reference
from rigledger.side import beside

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb

    from rigledger.intake.handover import Leaving
    from rigledger.side import Side
    from rigledger.study.model import Design

_COUNTS = """
SELECT (SELECT count(*) FROM handed.rigs) AS rigs,
  (SELECT count(*) FROM handed.sessions) AS sessions,
  count(*) AS runs, count(*) FILTER (role = 'measured') AS measured_runs,
  (SELECT count(*) FROM handed.cells) AS cells,
  {values} AS measurements
FROM handed.runs
"""


def check_set(
    path: Path,
    study: Path | None,
    *,
    captures: bool = True,
    shared: Path | None = None,
    keep: Path | None = None,
    extracts: Path | None = None,
) -> CheckResult:
    """Check a handed-in set against the contract and a study.

    Args:
        path: A folder, a .zip archive or one .xlsx workbook.
        study: The study's folder or its study.toml; None checks what can be checked without one.
        captures: Whether frame times are read and held against the reported values.
        shared: Folder of ours for checks of several sets in the same study: each set is read once
            then, not once for each of the others.
        keep: Folder to be made for what `handover.handed_over` reads, where the set is to be
            admitted; it is not made where the set may not be opened or no captures are read.
        extracts: Folder to be made for what `keep_extracts` keeps, where another set of the study
            had to be read; None where nobody keeps it.

    Returns:
        Verdict, every finding, and the rules that could not run.

    Raises:
        IntakeError: There is nothing at ``path``, or it is no folder, archive or workbook.
        StudyError: The study can't be read.
    """
    with tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as name:
        scratch = Path(name)
        seen = inspect(path, scratch)
        log = FindingLog(load_contract())
        log.findings.extend(seen.findings)
        if seen.folder is None:
            because = "the set may not be opened"
            design = None if study is None else _design(study)
            return _result(
                log, [NotRun(code, because) for code in _sql_rules(log)], None, design, {}
            )
        leaving = begun(keep, scratch, seen) if keep is not None and captures else None
        small = are_small(seen.folder, seen.files)
        with (
            locked_database(seen.folder, scratch, small=small) as con,
            beside(con, wanted=not small) as side,
        ):
            return _checked(
                con, side, seen, study, log,
                scratch=scratch, captures=captures, shared=shared, extracts=extracts,
                leaving=leaving,
            )  # fmt: skip


def _design(study: Path) -> Design:
    from rigledger.study.design import read_design
    from rigledger.study.layout import open_study

    return read_design(open_study(study).toml, load_contract())


def _sql_rules(log: FindingLog) -> list[str]:
    return [rule.code for rule in log.contract.rules.values() if rule.check or rule.sql]


def _checked(
    con: duckdb.DuckDBPyConnection,
    side: Side,
    seen: GateResult,
    study: Path | None,
    log: FindingLog,
    *,
    scratch: Path,
    captures: bool,
    shared: Path | None,
    extracts: Path | None,
    leaving: Leaving | None,
) -> CheckResult:
    folder = seen.folder or scratch
    studied = side.begin(lambda con: None if study is None else _begin_study(con, study))
    held = read_set(con, folder, seen.files, log, scratch, typed=True, side=side)
    design = studied.result()
    tables = {table.file for table in held.tables.values()}
    find_personal(folder, (name for name in seen.files if name not in tables), log)
    found = Found(con)
    note(found, held, log.findings)
    planned = check_tables(con, side, held, found, log, design=design)
    with_admitted = make_admitted(
        con, study, scratch, log.contract, shared=shared, extracts=extracts
    )
    before = len(log.findings)
    measured = measure_captures(
        con, held, folder, seen.files, log, side=side, captures=captures, leaving=leaving
    )
    note(found, held, log.findings[before:])
    given: Sequence[str] = present_metrics(held, log.contract)
    if measured and design is not None:
        given = fill_from_captures(con, held, log.contract)
    make_cells(con, side, given, log.contract)
    if design is not None:
        from rigledger.intake.study_tables import add_caps

        add_caps(con)
    make_capped(con, given, log.contract)
    planned.result()
    counted = side.begin(partial(_counts, given=given))
    not_run = _references_not_run(held, found, log)
    not_run += run_rules(
        con, held, found, log,
        with_study=design is not None, with_admitted=with_admitted, side=side,
    )  # fmt: skip
    find_patterns(con, side, held, given, log)
    if measured:
        compare_captures(con, held, found, log, passages=design is not None)
    not_run += check_signature(seen, study, _set_id(held), log)
    if leaving is not None:
        leaving.end(held.manifest.set)
    return _result(log, not_run, held, design, counted.result())


def _begin_study(con: duckdb.DuckDBPyConnection, study: Path) -> Design:
    """Read the study's design and fill the tables that follow from it alone."""
    from rigledger.intake.study_tables import begin_study

    design = _design(study)
    begin_study(con, design, load_contract())
    return design


def _references_not_run(held: TextSet, found: Found, log: FindingLog) -> list[NotRun]:
    """Name the tables that nothing could be looked up in, once each."""
    keys = {
        (key.table, key.reference): None
        for name, table in wide_tables(log.contract).items()
        if name in held.tables
        for key in table.foreign_keys
    }
    reasons = (unusable_reference(held, table, column, found) for table, column in keys)
    return [NotRun("unknown_reference", because) for because in reasons if because]


def _counts(con: duckdb.DuckDBPyConnection, given: Sequence[str]) -> dict[str, int]:
    values = " + ".join(f"count({identifier(name)})" for name in given) or "0"
    cursor = con.execute(_COUNTS.format(values=values))
    row = cursor.fetchone() or ()
    return dict(zip([item[0] for item in cursor.description or ()], row, strict=True))


def _result(
    log: FindingLog,
    not_run: list[NotRun],
    held: TextSet | None,
    design: Design | None,
    counts: dict[str, int],
) -> CheckResult:
    told = at_captures(log.findings, held.names if held else ())
    findings = tuple(sorted(told, key=lambda finding: finding.sort_key()))
    study = design.study if design else None
    return CheckResult(verdict_on(findings), findings, tuple(not_run), _set_id(held), study, counts)


def _set_id(held: TextSet | None) -> str | None:
    said = held.manifest.set if held else {}
    named = "contributor" in said and "set" in said
    return f"{said['contributor']}.{said['set']}" if named else None
