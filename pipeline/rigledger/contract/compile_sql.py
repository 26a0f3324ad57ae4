"""Compiles the contract to DuckDB statements: checks, casts, and the rules of rules.toml.

The relation that is checked has a column ``_row`` (BIGINT, the physical row) and one VARCHAR column
per field; a blank cell is null or empty. The statements are SQL alone: what they find does not
depend on the program that runs them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from rigledger.contract import cells
from rigledger.contract.sql_text import identifier, text

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping, Sequence

    from rigledger.contract.model import Field, ForeignKey, Rule, Table

CELL_RULES = (
    "required_missing",
    "type_spelling",
    "out_of_bounds",
    "pattern_mismatch",
    "not_in_vocabulary",
    "too_long",
)
KEY_RULES = ("duplicate_key", "unknown_reference")

_NOTHING = (
    "select null::varchar as rule, null::bigint as _row, null::varchar as column_name,"
    " null::varchar as value where false"
)


def compile_checks(
    table: Table,
    *,
    relation: str,
    references: Mapping[str, str] | None = None,
    columns: Collection[str] | None = None,
) -> str:
    """Compile one statement that returns every violation of a table's own constraints.

    Args:
        table: The table, with its metric and fact columns where it has some (``Contract.wide``).
        relation: Name of the text relation, or a parenthesised query.
        references: Relations that hold the tables of the foreign keys, by table name; a key whose
            table isn't named is not checked.
        columns: Columns that the relation has; None for all of the table. Checks of other columns
            are left out, and keys that use them.

    Returns:
        A query giving ``rule, _row, column_name, value``, in no order. ``value`` is the cell as
        written. A repeated key is reported for each row but the first that has it, with its columns
        and values joined by ``", "``.
    """
    steps = compile_steps(table, relation=relation, references=references, columns=columns)
    parts = [step.violations(f"({step.suspects})") for step in steps]
    return "\nunion all\n".join(parts or [_NOTHING])


Part = Literal["cells", "keys", "references"]


@dataclass(frozen=True, slots=True)
class Step:
    """One part of the checks, which finds nothing where its ``suspects`` are none.

    Attributes:
        suspects: A cheap query of what may be wrong.
        query: The violations, with ``{suspects}`` where the suspects are read.
        part: What it looks at.
        glance: An aggregate over the relation without which there are no suspects; None where
            there is no cheaper look than theirs.
    """

    suspects: str
    query: str
    part: Part
    glance: str | None = None

    def violations(self, suspects: str) -> str:
        """Give the query of the violations among the suspects of a relation."""
        return self.query.replace("{suspects}", suspects)


def compile_steps(
    table: Table,
    *,
    relation: str,
    references: Mapping[str, str] | None = None,
    columns: Collection[str] | None = None,
    doubtful: Collection[str] | None = None,
    keyed: str | None = None,
) -> list[Step]:
    """Compile the checks of `compile_checks` part by part: cells, keys, references.

    Args:
        table: The table.
        relation: Name of the text relation, or a parenthesised query.
        references: Relations that hold the tables of the foreign keys, by table name.
        columns: Columns that the relation has; None for all of the table.
        doubtful: Columns whose cells have to be looked at; None for all that are there.
        keyed: Relation that has the columns of the keys, where it is another one.

    Returns:
        The parts; their violations are rows of ``rule, _row, column_name, value``.
    """
    present = set(table.field_names if columns is None else columns)
    fields = [field for field in table.fields if field.name in present]
    keys = [key for key in (table.primary_key, *table.unique_keys) if key and present >= set(key)]
    looked_at = [field for field in fields if doubtful is None or field.name in doubtful]
    return [
        *_cell_steps(looked_at, relation, local_times=table.group == "handed_in"),
        *(_key_step(key, keyed or relation, blanks=key == table.primary_key) for key in keys),
        *(
            _reference_step(key, relation, references[key.table])
            for key in table.foreign_keys
            if references and key.table in references and key.field in present
        ),
    ]


def compile_doubts(table: Table, *, relation: str, columns: Collection[str]) -> str:
    """Compile a query of one row: whether anything is wrong with any cell of each column.

    Each value is looked at once, however many rows it stands in: most columns hold few.

    Args:
        table: The table.
        relation: Name of the text relation, or a parenthesised query.
        columns: Columns that the relation has, at least one; they are the query's.
    """
    local = table.group == "handed_in"
    parts = [
        f"(select bool_or(not ({cells.fine(table.field(name), local_times=local)}))"
        f" as {identifier(name)} from (select distinct {identifier(name)} from {relation}))"
        for name in columns
    ]
    return "select * from " + ",\n  ".join(parts)


def typed_select(
    table: Table,
    relation: str,
    *,
    columns: Collection[str] | None = None,
    sound: Collection[str] = (),
    keep_row: bool = True,
) -> str:
    """Compile a query that casts a text relation to the contract's types.

    Args:
        table: The table, with its metric and fact columns where it has some.
        relation: Name of the text relation, or a parenthesised query.
        columns: Columns that the relation has; None for all of the table. The others come out null.
        sound: Columns in which the checks found nothing misspelt or out of bounds: they are cast
            without a second look, which halves the time.
        keep_row: Whether ``_row`` comes first.

    Returns:
        A query giving the table's columns in their order. Cells that are blank or wrongly spelt are
        null.
    """
    present = set(table.field_names if columns is None else columns)
    local = table.group == "handed_in"
    selected = ["_row"] if keep_row else []
    for field in table.fields:
        held = (
            "null"
            if field.name not in present
            else cells.value(field, local_times=local, sound=field.name in sound)
        )
        kind = cells.SQL_TYPES[field.type]
        selected.append(f"cast({held} as {kind}) as {identifier(field.name)}")
    return "select\n  " + ",\n  ".join(selected) + f"\nfrom {relation}"


def _cell_steps(fields: Sequence[Field], relation: str, *, local_times: bool) -> list[Step]:
    """Set the few rows with something wrong apart in one pass, then say what is wrong with them."""
    fine, surely_fine = (
        "\n    and ".join(
            cells.fine(field, local_times=local_times, first_look=first) for field in fields
        )
        for first in (False, True)
    )
    failures = ",\n    ".join(
        _failure(rule, field.name, wrong)
        for field in fields
        for rule, wrong in cells.failures(field, local_times=local_times).items()
    )
    suspects = f"""select * from {relation} where not (
    {fine}
  )"""
    query = f"""select failure.rule, _row, failure.column_name, failure.value from (
  select _row, unnest([
    {failures}
  ]) as failure
  from {{suspects}}
) where failure is not null"""
    return (
        [Step(suspects, query, "cells", f"bool_or(not (\n    {surely_fine}\n  ))")]
        if failures
        else []
    )


def _failure(rule: str, column: str, wrong: str) -> str:
    found = (
        f"{{'rule': {text(rule)}, 'column_name': {text(column)}, 'value': {identifier(column)}}}"
    )
    return f"case when {wrong} then {found} end"


def _key_step(key: Sequence[str], relation: str, *, blanks: bool) -> Step:
    """Report the rows whose key an earlier row has.

    Args:
        key: Columns of the key.
        relation: The text relation.
        blanks: Whether a key with some blank cells counts: in a primary key it does, in a unique
            key not.
    """
    names = [f"key_{number}" for number in range(len(key))]
    filled = [f"coalesce({identifier(column)}, '')" for column in key]
    counts = (" or " if blanks else " and ").join(f"{cell} <> ''" for cell in filled)
    cells_as_names = ", ".join(
        f"{cell} as {name}" for cell, name in zip(filled, names, strict=True)
    )
    joined = ", ".join(names)
    keyed = f"(select _row, {cells_as_names} from {relation} where {counts})"
    query = f"""select 'duplicate_key' as rule, _row, {text(", ".join(key))} as column_name,
  concat_ws(', ', {joined}) as value
from {keyed}
semi join {{suspects}} using ({joined})
qualify row_number() over (partition by {joined} order by _row) > 1"""
    suspects = f"select {joined} from {keyed} group by {joined} having count(*) > 1"
    different = f"count(distinct concat_ws(chr(31), {', '.join(filled)}))"
    return Step(suspects, query, "keys", f"count(*) > {different}")


def _reference_step(key: ForeignKey, relation: str, referred: str) -> Step:
    column = identifier(key.field)
    query = f"""select 'unknown_reference' as rule, _row, {text(key.field)} as column_name,
  value from {{suspects}}"""
    suspects = f"""select _row, {column} as value
from (select _row, {column} from {relation} where {column} <> '')
anti join (select cast({identifier(key.reference)} as varchar) as referred from {referred})
  on {column} = referred"""
    return Step(suspects, query, "references")


def compile_rule(rule: Rule, *, schema: str = "handed") -> str:
    """Compile one rule of schema/rules.toml that SQL can find.

    Args:
        rule: A rule with a ``check`` or a query.
        schema: DuckDB schema that holds the tables of ``check`` rules.

    Returns:
        A query giving ``rule, _table, _row, column_name, value, detail``, in no order; ``_row`` is
        null where a finding is about no single row.

    Raises:
        ValueError: The rule has neither.
    """
    if rule.check is not None:
        inner = _check_query(rule, schema)
    elif rule.sql is not None:
        inner = rule.sql.strip().rstrip(";")
    else:
        raise ValueError(f"rule {rule.code} is found by {rule.found_by}, not by SQL")
    return f"""select {text(rule.code)} as rule, coalesce(_table, {text(rule.table)}) as _table,
  cast(_row as bigint) as _row, column_name, cast(value as varchar) as value, detail
from (
  select * from (values (null::varchar, null::bigint, null::varchar, null::varchar, null::varchar))
    as shape(_table, _row, column_name, value, detail) where false
  union all by name
  select * from (
{inner}
  )
)"""


def _check_query(rule: Rule, schema: str) -> str:
    column = "null" if rule.column is None else text(rule.column)
    value = "null" if rule.column is None else f"cast({identifier(rule.column)} as varchar)"
    return (
        f"select _row, {column} as column_name, {value} as value, null::varchar as detail\n"
        f"from {identifier(schema)}.{identifier(rule.table)} where not ({rule.check})"
    )


def compile_rules(rules: Iterable[Rule], *, schema: str = "handed") -> str:
    """Compile all rules that SQL can find into one statement; see `compile_rule`.

    Rules found elsewhere are left out.

    Raises:
        ValueError: No rule is left.
    """
    compiled = [compile_rule(rule, schema=schema) for rule in rules if rule.check or rule.sql]
    if not compiled:
        raise ValueError("no rule here is found by SQL")
    return "\nunion all\n".join(compiled)
