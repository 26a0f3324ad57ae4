"""Checks of cells and keys, compiled from the contract, as findings one can act on."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

from rigledger.contract.compile_sql import compile_doubts, compile_steps
from rigledger.intake.first_look import SHORT, look_through
from rigledger.intake.lost_rows import lost_rows
from rigledger.intake.text import excerpt
from rigledger.intake.texttable import LONG
from rigledger.intake.value_words import words

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

    import duckdb

    from rigledger.contract.compile_sql import Step
    from rigledger.contract.model import Table
    from rigledger.intake.found import Found
    from rigledger.intake.log import FindingLog
    from rigledger.intake.lost_rows import Violation
    from rigledger.intake.readset import TextSet
    from rigledger.intake.value_words import StudyNames

_POINT_IN_COMMAS = (
    "The set states a decimal comma: write {1}, or remove the line with decimal from the [files] "
    "part of result-set.toml if its numbers have points, as {0} has."
)
_SWAP = str.maketrans(",.", ".,")


@dataclass(frozen=True, slots=True)
class Look:
    """What a look at a table, once for all, says of where its checks need look.

    Attributes:
        keyed: The relation in which keys are looked for.
        doubtful: The columns of a long table in which anything is wrong; None for all.
    """

    keyed: str
    doubtful: list[str] | None


def look_at(con: duckdb.DuckDBPyConnection, held: TextSet, table: Table) -> Look:
    """Look at a table as text, before anything else of its set has been checked.

    Args:
        con: The database.
        held: The set as text.
        table: The wide table, one of the set's.
    """
    return Look(_keyed(con, held, table), _doubtful(con, held, table))


def check_values(
    con: duckdb.DuckDBPyConnection,
    held: TextSet,
    table: Table,
    found: Found,
    log: FindingLog,
    *,
    names: StudyNames,
    look: Look | None = None,
) -> list[int]:
    """Run the compiled checks of one table.

    Args:
        con: The database.
        held: The set as text.
        table: The wide table.
        found: Takes the cells that can't be used; cells that reading has found fault with get no
            further finding.
        log: Takes a finding for every violation.
        names: The study's own names, to offer where a name is misspelt.
        look: What `look_at` said; None where it is to be asked now.

    Returns:
        The rows that are no rows of the table at all: repeated headings, sums, notes.
    """
    violations = [
        item
        for item in _violations(con, held, table, found, look or look_at(con, held, table))
        if not found.stands_at(table.name, item[1], item[2])
    ]
    lost = lost_rows(violations, held.tables[table.name], table, log)
    kept = [item for item in violations if item[1] not in lost]

    @cache  # one mistake is often made in many rows
    def told(rule: str, column: str, value: str | None) -> tuple[str, str | None]:
        return words(rule, column, value, table, con, names=names)

    for item in kept:
        _add(item, told, held, table, log)
    _note(kept, table, found)
    if table.name != "runs":
        # Whatever the row was, a rig or session that others refer to may be what is lost.
        found.spoil(table.name, [(row, name) for row in lost for name in table.primary_key])
    return lost


def _violations(
    con: duckdb.DuckDBPyConnection, held: TextSet, table: Table, found: Found, look: Look
) -> list[Violation]:
    """Run the checks part by part; the rest of a part is planned where something is suspected."""
    relation, columns = f"intake.text_{table.name}", held.present[table.name]
    referred = references(held, table, found)
    rows, doubts, doubtful = held.tables[table.name].rows, None, look.doubtful
    if rows < min(SHORT, LONG):
        doubts = look_through(con, table, relation, columns=columns, references=referred)
        if not doubts.parts:
            return []
        doubtful = list(doubts.columns)
    steps = compile_steps(
        table,
        relation=relation,
        keyed=look.keyed,
        references=referred,
        columns=columns,
        doubtful=doubtful,
    )
    if doubts is not None:
        steps = [step for step in steps if step.part in doubts.parts]
    elif rows < LONG:
        steps = _suspicious(con, relation, steps)
    return _found_by(con, steps)


def _found_by(con: duckdb.DuckDBPyConnection, steps: list[Step]) -> list[Violation]:
    violations: list[Violation] = []
    for step in steps:
        made = con.execute(f"CREATE OR REPLACE TEMP TABLE suspects AS {step.suspects}").fetchone()
        if made and made[0]:
            violations += con.execute(step.violations("suspects")).fetchall()
    if steps:
        con.execute("DROP TABLE suspects")
    return violations


def _keyed(con: duckdb.DuckDBPyConnection, held: TextSet, table: Table) -> str:
    """Give the relation in which keys are looked for, which all rows are in where one may repeat.

    What is looked for is not there at all where the values of no two rows are the same.
    """
    plain, present = held.tables[table.name].plain, set(held.present[table.name])
    if plain is None:
        return f"intake.text_{table.name}"
    keys = [key for key in (table.primary_key, *table.unique_keys) if key and present >= set(key)]
    if not any(all(con.execute(query).fetchone() for query in plain.twice(key)) for key in keys):
        return f"intake.text_{table.name}"
    return plain.as_text(list(dict.fromkeys(name for key in keys for name in key)))


def _suspicious(con: duckdb.DuckDBPyConnection, relation: str, steps: list[Step]) -> list[Step]:
    """Give the parts of the checks that a look at a short table, once for all, doesn't rule out."""
    glances = [step.glance for step in steps if step.glance]
    if not glances:
        return steps
    row = con.execute(f"SELECT {', '.join(glances)} FROM {relation}").fetchone() or ()
    seen = dict(zip(glances, row, strict=True))
    return [step for step in steps if step.glance is None or seen[step.glance]]


def _doubtful(con: duckdb.DuckDBPyConnection, held: TextSet, table: Table) -> list[str] | None:
    """Give the columns of a long table in which anything is wrong; None where all are looked at."""
    columns, source = held.present[table.name], held.tables[table.name]
    if source.rows < LONG or not columns:
        return None
    if source.plain is not None and source.plain.odd == 0:
        return []
    query = compile_doubts(table, relation=f"intake.text_{table.name}", columns=columns)
    row = con.execute(query).fetchone() or ()
    return [name for name, wrong in zip(columns, row, strict=True) if wrong]


def references(held: TextSet, table: Table, found: Found) -> dict[str, str]:
    """Give the text relations that a table's foreign keys can be looked up in.

    A table that could not be read whole, or whose own names are in doubt, would make every row
    that refers to it wrong.
    """
    return {
        key.table: f"intake.text_{key.table}"
        for key in table.foreign_keys
        if unusable_reference(held, key.table, key.reference, found) is None
    }


def unusable_reference(held: TextSet, table: str, column: str, found: Found) -> str | None:
    """Say why a table can't be referred to; None where it can."""
    source = held.tables.get(table)
    if source is None:
        return f"the table {table} could not be read"
    if source.rows == 0:
        return f"the table {table} has no rows"
    if not source.whole:
        return f"rows of {table} could not be read"
    if column not in held.present[table]:
        return f"the table {table} has no column {column}"
    return f"{table}.{column} can't be used" if found.unusable(table, column) else None


def _add(
    violation: Violation,
    told: Callable[[str, str, str | None], tuple[str, str | None]],
    held: TextSet,
    table: Table,
    log: FindingLog,
) -> None:
    rule, row, column, value = violation
    source = held.tables[table.name]
    swapped = value and _swapped(source.decimal, table, column)
    reason, step = told(rule, column, value)
    if swapped and rule == "type_spelling" and value and re.fullmatch(r"-?[0-9]+,[0-9]+", value):
        step = _POINT_IN_COMMAS.format(value.replace(",", "."), value)
    log.add(
        rule,
        reason,
        file=source.file,
        row=held.manifest.lines.get(f"set.{column}") if table.name == "set" else row,
        column=column,
        value=excerpt(value.translate(_SWAP) if value and swapped else value),
        next_step=_in_a_workbook(rule, step) if _is_sheet(source.file) else step,
    )


def _is_sheet(file: str) -> bool:
    return ".xlsx: " in file.lower()


def _in_a_workbook(rule: str, step: str | None) -> str | None:
    """Give the next step as it is in a workbook, whose numbers have no decimal mark to state."""
    if rule == "type_spelling" and step and "[files]" in step:
        return "The cell is text: format it as a number and type the value again."
    if rule == "required_missing" and step:
        return f"{step} Merged cells hold their value in the first one alone: unmerge them."
    return step


def _swapped(decimal: str, table: Table, column: str) -> bool:
    return (
        decimal == ","
        and column in table.field_names
        and table.field(column).type in {"integer", "number"}
    )


def _note(violations: Iterable[Violation], table: Table, found: Found) -> None:
    """Note the cells, and which columns rules can't use for them.

    A run that is there twice is still a run; of another key that is there twice, the last column
    is the one in doubt.
    """
    cells: dict[str, list[tuple[int, str]]] = {}
    for rule, row, column, _ in violations:
        names = column.split(", ")
        cells.setdefault(rule, []).extend((row, name) for name in names)
        if rule != "duplicate_key":
            found.spoil(table.name, [(row, column)])
        elif table.name != "runs":
            doubtful = names if tuple(names) == table.primary_key else names[-1:]
            found.spoil(table.name, [(row, name) for name in doubtful])
    for rule, places in cells.items():
        found.add(rule, table.name, places)
