"""Runs the rules of schema/rules.toml over the typed tables, and says which could not run."""

from __future__ import annotations

from functools import cache, partial
from itertools import islice
from typing import TYPE_CHECKING, Any

from rigledger.contract.compile_sql import compile_rule
from rigledger.errors import near_names
from rigledger.intake.hints import Hints
from rigledger.intake.result import NotRun
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from concurrent.futures import Future

    import duckdb

    from rigledger.contract.model import Contract, Rule
    from rigledger.intake.found import Found
    from rigledger.intake.log import FindingLog
    from rigledger.intake.readset import TextSet
    from rigledger.side import Side

_FEW = 5
_AHEAD = 3  # rules
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
    found: Found,
    log: FindingLog,
    *,
    with_study: bool,
    with_admitted: bool,
    side: Side | None = None,
) -> list[NotRun]:
    """Run every rule that SQL can find, in the order of rules.toml.

    A rule whose columns an earlier finding has spoiled does not run; where one runs, what it
    finds at a cell that has an error already is held back: it follows from that.

    Args:
        con: The database, with ``handed.*``, ``study.*`` and ``admitted.*``.
        held: The set as text.
        found: The cells that have an error so far; gets those that the rules find.
        log: Takes the findings.
        with_study: Whether the set is held against a study.
        with_admitted: Whether the study has other sets; else nothing can repeat them.
        side: Where it is seen beside which rules may find anything.

    Returns:
        The rules that could not run, and why.
    """
    not_run = []
    rules = [rule for rule in log.contract.rules.values() if rule.check or rule.sql]
    hints = Hints(con, rules, side)

    @cache
    def lacking(need: str, _spoilt: int) -> str | None:
        table, _, column = need.partition(".")
        return lacks(table, column, held, found, log.contract)

    def because_of(rule: Rule) -> str | None:
        return _because(rule, held, found, lacking, with_study=with_study)

    def is_asked(rule: Rule) -> bool:
        return (with_admitted or not _reads(rule, "admitted.")) and hints.may_find(rule)

    if side is not None and side.pool is None:
        asked = (one for one in rules if with_admitted or not _reads(one, "admitted."))
        hints.read_at_once(one for one in asked if not because_of(one))
    ahead = _Ahead(con, side, found)
    for place, rule in enumerate(rules):
        because = because_of(rule)
        if because:
            not_run.append(NotRun(rule.code, because))
        elif is_asked(rule):
            following = (one for one in rules[place + 1 :] if not because_of(one) and is_asked(one))
            _say(con, rule, ahead.rows(rule, following), held=held, found=found, log=log)
    return not_run


class _Ahead:
    """Runs the queries of the next rules beside that of one, where a set is long.

    A query that reads what was found so far waits for its turn; what another one gave counts as
    long as no further value has come into doubt.
    """

    def __init__(self, con: duckdb.DuckDBPyConnection, side: Side | None, found: Found) -> None:
        self._con, self._side, self._found = con, side, found
        self._begun: dict[str, tuple[int, Future[list[tuple[Any, ...]]]]] = {}

    def rows(self, rule: Rule, following: Iterable[Rule]) -> list[tuple[Any, ...]]:
        """Give what a rule finds, and begin with those that follow."""
        if self._side is not None and self._side.pool is not None:
            for one in islice(following, _AHEAD):
                if one.code not in self._begun and not _reads(one, "handed.found"):
                    rows = self._side.begin(partial(_found_by, one))
                    self._begun[one.code] = (self._found.doubts, rows)
        doubts, begun = self._begun.get(rule.code, (None, None))
        if begun is not None and doubts == self._found.doubts:
            return begun.result()
        return _found_by(rule, self._con)


def _found_by(rule: Rule, con: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    return con.execute(compile_rule(rule)).fetchall()


def _because(
    rule: Rule,
    held: TextSet,
    found: Found,
    lacking: Callable[[str, int], str | None],
    *,
    with_study: bool,
) -> str | None:
    if rule.table not in held.tables and rule.table not in {"set", "platforms", "cards"}:
        return f"the table {rule.table} could not be read"
    asks_study = _reads(rule, "study.")
    if not with_study and (asks_study or _reads(rule, "admitted.")):
        return "no study was given to hold the set against"
    if asks_study and rule.table != "set" and found.unusable("set", "study"):
        return "the set names another study"
    reasons = (lacking(need, found.spoilt) for need in rule.needs)
    return next((because for because in reasons if because), None)


def _reads(rule: Rule, schema: str) -> bool:
    return rule.sql is not None and schema in rule.sql


def lacks(table: str, column: str, held: TextSet, found: Found, contract: Contract) -> str | None:
    """Say why rules that need a column whole can't run; None where they can.

    A column that a set may leave out is whole when it is left out.
    """
    if table not in held.tables:
        return f"the table {table} could not be read"
    if not held.tables[table].whole:
        return f"rows of {table} could not be read"
    if held.tables[table].rows == 0:
        return f"the table {table} has no rows"
    if column in held.tables[table].meant:
        return f"the column {table}.{column} has another name in the file"
    if column not in held.present[table]:
        required = contract.wide("handed_in", table).field(column).required
        return f"the column {table}.{column} was not handed in" if required else None
    rows = found.unusable(table, column)
    place = "" if table == "set" else f" in {_rows(rows)}" if rows else ""
    return f"{table}.{column} can't be used{place}" if rows else None


def _rows(rows: list[int]) -> str:
    few = ", ".join(str(row) for row in rows[:_FEW])
    more = f" and {len(rows) - _FEW} more" if len(rows) > _FEW else ""
    return f"row {few}" if len(rows) == 1 else f"rows {few}{more}"


def _say(
    con: duckdb.DuckDBPyConnection,
    rule: Rule,
    rows: list[tuple[Any, ...]],
    *,
    held: TextSet,
    found: Found,
    log: FindingLog,
) -> None:
    """Add a finding for each row that a rule has found."""
    new = [row for row in rows if not _follows(held, found, *row[1:4])]
    legal = _legal(con, _LEGAL[rule.code]) if new and rule.code in _LEGAL else None
    for _, table, row, column, value, detail in new:
        source = held.tables.get(table)
        log.add(
            rule.code,
            detail or (f"{rule.title}: {column} is {excerpt(value)}" if value else rule.title),
            file=source.file if source else table,
            row=held.manifest.lines.get(f"set.{column}") if table == "set" else row,
            column=column,
            value=excerpt(value),
            next_step=near_names(value, legal) or None if legal is not None and value else None,
        )
    if new and rule.severity == "error":
        _note(rule, new, found)


def _follows(held: TextSet, found: Found, table: str, row: int | None, column: str | None) -> bool:
    """Whether an earlier finding stands at the cell, or at the heading of its column."""
    source = held.tables.get(table)
    return found.stands_at(table, row, column) or (source is not None and column in source.meant)


def _note(rule: Rule, rows: Iterable[tuple[str, ...]], found: Found) -> None:
    cells: dict[str, list[tuple[int, str]]] = {}
    for _, table, row, column, _, _ in rows:
        if row is not None and column is not None:
            cells.setdefault(table, []).append((int(row), column))
    for table, places in cells.items():
        found.add(rule.code, table, places)
        if rule.spoils:
            found.spoil(table, places)
    if rule.spoils and "runs" in cells:
        found.doubt(rule.code)


def _legal(con: duckdb.DuckDBPyConnection, place: str) -> list[str]:
    schema, table, column = place.split(".")
    found = con.execute(f'SELECT DISTINCT "{column}" FROM {schema}."{table}" LIMIT 500').fetchall()
    return [str(name) for (name,) in found if name is not None]
