"""Pandera schemas (polars) made from the contract, for frames between stages and derived tables.

The same fields, keys and row rules as the compiled SQL checks, on typed frames instead of text.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, ClassVar

import pandera.polars as pa
import polars as pl
from pandera.config import ValidationDepth, config_context

from rigledger.contract.frame_conditions import TYPES, conditions, first_of_its_key
from rigledger.errors import ContractError, RigledgerError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from rigledger.contract.model import Field, Rule, Table

_WRONG_COLUMNS = {
    "column_in_schema",
    "column_in_dataframe",
    "column_ordered",
    "column_not_in_dataframe",
}


class FrameError(RigledgerError, ValueError):
    """A stage made a frame that doesn't keep the contract of its table."""

    code: ClassVar[str] = "frame"


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a frame.

    Attributes:
        table: Table the frame was meant to be.
        rule: Code of the rule, or ``wrong_columns``, ``wrong_type``.
        column: Column or columns (joined by ``", "``); None for the row as a whole.
        row: Row of the frame from 1; None for the column as a whole.
        value: The offending value as text.
    """

    table: str
    rule: str
    column: str | None
    row: int | None
    value: str | None


def frame_schema(table: Table, rules: Iterable[Rule] = ()) -> pa.DataFrameSchema:
    """Make the pandera schema of a table.

    Args:
        table: The table, with its metric and fact columns where it has some.
        rules: Rules of the contract; those of this table that have a ``check`` become row checks.

    Returns:
        A schema that is strict about columns and their order. Numbers must be finite and within
        both bounds; keys are compared as SQL compares them: blanks never clash in a unique key.

    Raises:
        ContractError: A rule's ``check`` isn't an expression that polars understands too.
    """
    keys = [(key, key == table.primary_key) for key in (table.primary_key, *table.unique_keys)]
    return pa.DataFrameSchema(
        {field.name: _column(field) for field in table.fields},
        checks=[
            *(_key_check(key, blanks=primary) for key, primary in keys if key),
            *(_rule_check(rule) for rule in rules if rule.check and rule.table == table.name),
        ],
        name=table.name,
        strict=True,
        ordered=True,
    )


def _column(field: Field) -> pa.Column:
    return pa.Column(
        TYPES[field.type],
        checks=[_cell_check(rule, holds) for rule, holds in conditions(field)],
        nullable=not field.required,
        title=field.title,
        description=field.description,
    )


def _cell_check(rule: str, right: Callable[[pl.Expr], pl.Expr]) -> pa.Check:
    """Make a check of one column that gives one answer a row; null answers pass."""
    return pa.Check(
        lambda held: held.lazyframe.select(right(pl.col(held.key))), name=rule, error=rule
    )


def _key_check(key: Sequence[str], *, blanks: bool) -> pa.Check:
    first = first_of_its_key(key, blanks=blanks)
    return pa.Check(
        lambda held: held.lazyframe.select(first=first),
        name="duplicate_key",
        error=_label("duplicate_key", ", ".join(key)),
    )


def _rule_check(rule: Rule) -> pa.Check:
    try:
        holds = pl.sql_expr(str(rule.check))
    except pl.exceptions.PolarsError as error:
        raise ContractError(
            f"the check of rule {rule.code} is not understood by polars: {error}",
            file="rules.toml",
            column=rule.code,
        ) from error
    return pa.Check(
        lambda held: held.lazyframe.select(holds=holds),
        name=rule.code,
        error=_label(rule.code, rule.column or ""),
    )


def _label(rule: str, columns: str) -> str:
    """Pack what a failure must carry into the one text that pandera hands back."""
    return f"{rule}|{columns}"


def validate_frame(frame: pl.DataFrame, table: Table, rules: Iterable[Rule] = ()) -> list[Problem]:
    """Hold a frame against the contract of its table.

    Wrong columns or types are reported alone: with them the values can't be judged.

    Args:
        frame: The frame, whole in memory (a lazy one would only have its types looked at).
        table: The table, with its metric and fact columns where it has some.
        rules: Rules of the contract, see `frame_schema`.

    Returns:
        Every problem, ordered by row, column and rule.
    """
    schema = frame_schema(table, rules)
    declared = [(field.name, TYPES[field.type]) for field in table.fields]
    as_declared = list(frame.schema.items()) == declared
    depths = (ValidationDepth.SCHEMA_ONLY, ValidationDepth.SCHEMA_AND_DATA)
    # The look at columns and types alone takes as long as the whole; it is for a wrong frame.
    for depth in depths[as_declared:]:
        with config_context(validation_depth=depth):
            found = _failures(schema, frame)
        if found:
            problems = {_problem(table, failure) for failure in found}
            return sorted(problems, key=lambda item: (item.row or 0, item.column or "", item.rule))
    return []


def require_frame(frame: pl.DataFrame, table: Table, rules: Iterable[Rule] = ()) -> None:
    """Refuse a frame that doesn't keep the contract of its table; see `validate_frame`.

    Raises:
        FrameError: Something is wrong; the first problem gives the place, the message says how many
            there are.
    """
    problems = validate_frame(frame, table, rules)
    if problems:
        first = problems[0]
        kinds = ", ".join(sorted({problem.rule for problem in problems}))
        raise FrameError(
            f"{len(problems)} problem(s) in table {table.name}: {kinds}",
            file=table.name,
            row=first.row,
            column=first.column,
            value=first.value,
            next_step=f"mend the stage that made the table; the first problem is {first.rule}",
        )


def _failures(schema: pa.DataFrameSchema, frame: pl.DataFrame) -> list[dict[str, Any]]:
    try:
        schema.validate(frame, lazy=True)
    except pa.errors.SchemaErrors as error:
        return list(error.failure_cases.to_dicts())
    return []


def _problem(table: Table, failure: dict[str, Any]) -> Problem:
    check, value, index = failure["check"], failure["failure_case"], failure["index"]
    row = None if index is None else index + 1
    if failure["schema_context"] == "DataFrameSchema" and index is not None:
        rule, columns = check.split("|", 1)
        return Problem(table.name, rule, columns or None, row, _cells_of(value, columns))
    if check in _WRONG_COLUMNS or check.startswith("column"):
        return Problem(table.name, "wrong_columns", value, None, None)
    if check.startswith("dtype"):
        return Problem(table.name, "wrong_type", failure["column"], None, value)
    if check == "not_nullable":
        # Pandera counts not-a-number as blank too; it is a value out of bounds.
        rule = "out_of_bounds" if value == "NaN" else "required_missing"
        return Problem(table.name, rule, failure["column"], row, value)
    return Problem(table.name, check, failure["column"], row, value)


def _cells_of(row: str, columns: str) -> str | None:
    held = json.loads(row)
    names = [name for name in columns.split(", ") if name]
    return ", ".join("" if held[name] is None else str(held[name]) for name in names) or None
