"""Runs the rules of schema/rules.toml over the typed tables, and says which could not run."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rigledger.contract.compile_sql import compile_rule
from rigledger.errors import near_names
from rigledger.intake.result import NotRun
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

    from rigledger.contract.model import Rule
    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet

_FEW = 5
# Where a misspelt name's near ones are looked up: rule -> column of the study.
_LEGAL = {
    "unknown_workload": "study.workloads.workload",
    "unknown_level": "study.levels.level",
    "unknown_platform": "study.platforms.platform",
    "unknown_card": "study.cards.card",
    "unknown_session": "handed.sessions.session",
    "unknown_rig": "handed.rigs.rig",
}


def run_rules(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    wrong: Mapping[str, Mapping[str, list[int]]],
    log: FindingLog,
    *,
    with_study: bool,
) -> list[NotRun]:
    """Run every rule that SQL can find.

    Args:
        con: The database, with ``handed.*``, ``study.*`` and ``admitted.runs``.
        held: The set as text.
        wrong: For each table the columns with cells that can't be used, and their rows.
        log: Takes the findings.
        with_study: Whether the set is held against a study.

    Returns:
        The rules that could not run, and why.
    """
    not_run = []
    for rule in log.contract.rules.values():
        if rule.check is None and rule.sql is None:
            continue
        because = _because(rule, held, wrong, with_study=with_study)
        if because:
            not_run.append(NotRun(rule.code, because))
        else:
            _run(con, rule, held, log)
    return not_run


def _because(
    rule: Rule, held: TextSet, wrong: Mapping[str, Mapping[str, list[int]]], *, with_study: bool
) -> str | None:
    if rule.table not in held.tables and rule.table != "set":
        return (
            None
            if rule.table in {"platforms", "cards"}
            else f"the table {rule.table} could not be read"
        )
    if (
        not with_study
        and rule.sql is not None
        and ("study." in rule.sql or "admitted." in rule.sql)
    ):
        return "no study was given to hold the set against"
    for need in rule.needs:
        table, _, column = need.partition(".")
        because = _lacks(table, column, held, wrong)
        if because:
            return because
    return None


def _lacks(
    table: str, column: str, held: TextSet, wrong: Mapping[str, Mapping[str, list[int]]]
) -> str | None:
    if table not in held.tables:
        return f"the table {table} could not be read"
    if not held.tables[table].whole:
        return f"rows of {table} could not be read"
    if column not in held.present[table]:
        return f"the column {table}.{column} was not handed in"
    rows = sorted(set(wrong.get(table, {}).get(column, ())))
    if not rows:
        return None
    few = ", ".join(str(row) for row in rows[:_FEW])
    more = f" and {len(rows) - _FEW} more" if len(rows) > _FEW else ""
    return f"{table}.{column} can't be used in rows {few}{more}"


def _run(con: duckdb.DuckDBPyConnection, rule: Rule, held: TextSet, log: FindingLog) -> None:
    legal: list[str] | None = None
    for _, table, row, column, value, detail in con.execute(compile_rule(rule)).fetchall():
        source = held.tables.get(table)
        file = source.file if source else table
        place = held.manifest.lines.get(f"set.{column}") if table == "set" else row
        step = None
        if rule.code in _LEGAL and value:
            legal = _legal(con, _LEGAL[rule.code]) if legal is None else legal
            step = near_names(value, legal) or None
        log.add(
            rule.code,
            detail or f"{rule.title}. {rule.why}",
            file=file,
            row=place,
            column=column,
            value=excerpt(value),
            next_step=step,
        )


def _legal(con: duckdb.DuckDBPyConnection, place: str) -> list[str]:
    schema, table, column = place.split(".")
    found = con.execute(f'SELECT DISTINCT "{column}" FROM {schema}."{table}" LIMIT 500').fetchall()
    return [str(name) for (name,) in found if name is not None]
