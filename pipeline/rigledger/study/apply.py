"""Applies corrections to the source tables by SELECT; nothing admitted is edited.

An excluded run keeps its row with the role ``excluded`` and the correction's reason, so every
derived table, which counts measured runs and sentinels, leaves it out. An excluded metric loses
its measurement; ``was`` keeps the value.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.sql_text import identifier
from rigledger.errors import StudyError, near_names
from rigledger.study.corrections import Correction, correctable, correction_rows
from rigledger.study.rows import insert_rows, scalar
from rigledger.study.section import problem_with
from rigledger.study.stacks import restack

if TYPE_CHECKING:
    from collections.abc import Sequence

    import duckdb

    from rigledger.contract import Contract, Field

_FILE = "corrections.toml"
# Columns whose values stand in another source table: a relabelled row has to find its partner too.
_PARTNERS = {"workload": "workloads", "level": "levels"}


@dataclass(frozen=True, slots=True)
class _Change:
    """A new value for one field of the rows of one table that a condition picks."""

    correction: Correction
    table: str
    column: Field
    where: str
    values: tuple[str, ...]


def apply_corrections(
    con: duckdb.DuckDBPyConnection, corrections: Sequence[Correction], contract: Contract
) -> None:
    """Apply corrections to the source tables of a connection and fill the table ``corrections``.

    Args:
        con: Holds the source tables, filled from the admitted sets.
        corrections: The declared corrections.
        contract: The contract.

    Raises:
        StudyError: A correction matches nothing, its ``was`` no longer fits, its ``becomes`` isn't
            legal, or after it two measured runs would be the same pass of the same cell.
    """
    insert_rows(con, "corrections", correction_rows(tuple(corrections)))
    for correction in sorted(corrections, key=lambda held: held.correction):
        _check_place(con, correction)
        if correction.applies:
            _apply(con, correction, contract)
    if any(correction.applies for correction in corrections):
        _refuse_same_pass(con)


def _fail(correction: Correction, message: str, **more: Any) -> StudyError:  # noqa: ANN401
    text = f"correction {correction.correction}: {message}"
    return StudyError(text, file=_FILE, **more)


def _check_place(con: duckdb.DuckDBPyConnection, correction: Correction) -> None:
    for table, key, name in (
        ("sessions", "session", correction.session),
        ("runs", "run", correction.run),
    ):
        query = f"select count(*) from {table} where {key} = ?"
        if name is not None and not scalar(con, query, [name]):
            raise _fail(
                correction,
                f"matches nothing: no {key} {name!r} in a set in force",
                column=key,
                value=name,
                next_step=_near(con, table, key, name),
            )


def _near(con: duckdb.DuckDBPyConnection, table: str, key: str, name: str) -> str:
    legal = [str(row[0]) for row in con.execute(f"select {key} from {table}").fetchall()]
    near = near_names(name, legal)
    return f"{near}; if its set was superseded or withdrawn, take the correction out"


def _apply(con: duckdb.DuckDBPyConnection, correction: Correction, contract: Contract) -> None:
    if correction.action == "exclude":
        _exclude(con, correction)
        return
    table, column = correctable(contract, correction)[correction.field or ""]
    change = _Change(correction, table, column, *_rows_meant(correction, table))
    _check_was(con, change)
    becomes = _becomes(con, change)
    if table == "stacks":
        restack(con, correction.session, column.name, becomes, contract)
    else:
        _select_anew(con, table, {column.name: becomes}, change)


def _rows_meant(correction: Correction, table: str) -> tuple[str, tuple[str, ...]]:
    if table == "measurements":
        where = "run = ? and metric = ? and origin = 'reported'"
        return where, (correction.run or "", correction.metric or "")
    if table == "stacks":
        where = "stack = (select stack from sessions where session = ?)"
        return where, (correction.session,)
    if correction.run is not None:
        return "run = ?", (correction.run,)
    return "session = ?", (correction.session,)


def _check_was(con: duckdb.DuckDBPyConnection, change: _Change) -> None:
    name = identifier(change.column.name)
    query = f"select distinct cast({name} as varchar) from {change.table} where {change.where}"
    held = [row[0] for row in con.execute(query, list(change.values)).fetchall()]
    if not held:
        raise _fail(change.correction, "matches nothing", column=change.column.name)
    was = change.correction.was
    cast = SQL_TYPES[change.column.type]
    for value in held:
        same = f"select cast(? as {cast}) is not distinct from try_cast(? as {cast})"
        if not scalar(con, same, [value, was]):
            raise _fail(
                change.correction,
                f"no longer fits: the value is {value!r}, the correction expects {was!r}",
                column=change.column.name,
                value=was,
                next_step="look at the set again: it may have been mended by a later one",
            )


def _becomes(con: duckdb.DuckDBPyConnection, change: _Change) -> Any:  # noqa: ANN401
    text = change.correction.becomes
    value = scalar(con, f"select try_cast(? as {SQL_TYPES[change.column.type]})", [text])
    problem = "isn't spelt as its column's type" if value is None else None
    problem = problem or problem_with(change.column, value)
    partner = _PARTNERS.get(change.column.name)
    if not problem and partner:
        legal = [row[0] for row in con.execute(f"select * from {partner}").fetchall()]
        problem = None if value in legal else f"is not known; {near_names(str(value), legal)}"
    if problem:
        raise _fail(change.correction, f"becomes {problem}", column="becomes", value=text)
    return value


def _select_anew(
    con: duckdb.DuckDBPyConnection, table: str, values: dict[str, Any], change: _Change
) -> None:
    """Make a table anew with other values in the rows that the change means."""
    replaced = ", ".join(
        f"case when {change.where} then ? else {identifier(name)} end as {identifier(name)}"
        for name in values
    )
    given = [item for value in values.values() for item in (*change.values, value)]
    con.execute(
        f"create or replace table {table} as select * replace ({replaced}) from {table}", given
    )


def _exclude(con: duckdb.DuckDBPyConnection, correction: Correction) -> None:
    if correction.metric is not None:
        _exclude_metric(con, correction)
        return
    key = "session" if correction.run is None else "run"
    reason = f"excluded by correction {correction.correction}: {correction.reason}"[:400]
    con.execute(
        f"""
        create or replace table runs as
        select * replace (
            case when {key} = $name then 'excluded' else role end as role,
            case when {key} = $name then $reason else reason end as reason)
        from runs
        """,
        {"name": getattr(correction, key), "reason": reason},
    )


def _exclude_metric(con: duckdb.DuckDBPyConnection, correction: Correction) -> None:
    values = [correction.run, correction.metric]
    query = "select value from measurements where run = ? and metric = ? order by origin desc"
    held = scalar(con, query, values)
    if held is None:
        missing = f"matches nothing: the run has no {correction.metric}"
        raise _fail(correction, missing, column="metric")
    if not scalar(con, "select try_cast(? as double) = ?", [correction.was, held]):
        raise _fail(
            correction,
            f"no longer fits: the value is {held!r}, the correction expects {correction.was!r}",
            column="was",
            value=correction.was,
        )
    con.execute(
        "create or replace table measurements as select * from measurements"
        " where not (run = ? and metric = ?)",
        values,
    )


def _refuse_same_pass(con: duckdb.DuckDBPyConnection) -> None:
    row = con.execute(
        """
        select list(run order by run)
        from runs where role = 'measured'
        group by session, workload, title_build, resolution, level, pass
        having count(*) > 1 order by 1 limit 1
        """
    ).fetchone()
    if row:
        raise StudyError(
            f"after the corrections these runs are the same pass of one cell: {', '.join(row[0])}",
            file=_FILE,
            next_step="give one of them another pass, or exclude it",
        )
