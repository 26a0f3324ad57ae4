"""Frames held against the contract, and the same verdicts as the compiled SQL."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

import polars as pl
import pytest

from rigledger.contract import Field, Rule, Table
from rigledger.contract.compile_sql import compile_checks, typed_select
from rigledger.contract.pandera_schemas import FrameError, Problem, require_frame, validate_frame
from rigledger.errors import ContractError

if TYPE_CHECKING:
    from rigledger.contract import Contract

    from .conftest import TextTables

TABLE = Table(
    "held",
    "derived",
    "Held",
    "Held.",
    (
        Field("name", "N", "N.", "string", required=True, pattern="[a-z]|aa", max_length=2),
        Field("word", "W", "W.", "string", enum=("on", "off")),
        Field("count", "C", "C.", "integer", minimum=1, maximum=9),
        Field("rate", "R", "R.", "number", minimum=0, maximum=100),
        Field("day", "D", "D.", "date", minimum="2000-01-01", maximum="2100-01-01"),
        Field("moment", "M", "M.", "datetime", minimum="2000-01-01T00:00:00Z"),
        Field("flag", "F", "F.", "boolean"),
    ),
    primary_key=("name",),
    unique_keys=(("word", "count"),),
)
GOOD = {
    "name": "a",
    "word": "on",
    "count": 1,
    "rate": 59.6,
    "day": date(2026, 10, 5),
    "moment": datetime(2026, 10, 5, 9, 12),
    "flag": True,
}


def _frame(*rows: dict[str, object]) -> pl.DataFrame:
    types = {
        "name": pl.String,
        "word": pl.String,
        "count": pl.Int64,
        "rate": pl.Float64,
        "day": pl.Date,
        "moment": pl.Datetime("us"),
        "flag": pl.Boolean,
    }
    return pl.DataFrame([GOOD | row for row in rows], schema=types, orient="row")


def _found(*rows: dict[str, object]) -> list[tuple[str, str | None, int | None, str | None]]:
    problems = validate_frame(_frame(*rows), TABLE)
    return [(held.rule, held.column, held.row, held.value) for held in problems]


def test_a_clean_and_an_empty_frame_have_no_problem() -> None:
    blank = dict.fromkeys(("word", "count", "rate", "day", "moment", "flag"))
    assert ([], []) == (_found({}, {"name": "b"} | blank), _found())


@pytest.mark.parametrize(
    ("change", "rule", "value"),
    [
        ({"name": None}, "required_missing", None),
        ({"name": "\u00a0"}, "required_missing", "\u00a0"),
        ({"name": "b1"}, "pattern_mismatch", "b1"),
        ({"name": "xaa"}, "pattern_mismatch", "xaa"),
        ({"word": "On"}, "not_in_vocabulary", "On"),
        ({"count": 0}, "out_of_bounds", "0"),
        ({"count": 10}, "out_of_bounds", "10"),
        ({"rate": float("nan")}, "out_of_bounds", "NaN"),
        ({"rate": float("inf")}, "out_of_bounds", "inf"),
        ({"rate": float("-inf")}, "out_of_bounds", "-inf"),
        ({"rate": 100.1}, "out_of_bounds", "100.1"),
        ({"day": date(1999, 12, 31)}, "out_of_bounds", "1999-12-31"),
        ({"moment": datetime(1999, 12, 31)}, "out_of_bounds", "1999-12-31 00:00:00.000000"),
    ],
)
def test_a_wrong_cell_is_reported_with_its_place(
    change: dict[str, object], rule: str, value: str | None
) -> None:
    found = _found({"name": "c", "count": 2}, change)
    assert (rule, next(iter(change)), 2, value) in found
    # Nothing but the cell itself is blamed; one cell may break more than one rule.
    assert {(next(iter(change)), 2)} == {(column, row) for _, column, row, _ in found}


def test_not_a_number_in_a_required_column_is_out_of_bounds_and_not_missing() -> None:
    field = Field("rate", "R", "R.", "number", required=True, minimum=0, maximum=1)
    table = Table("t", "derived", "T", "T.", (field,))
    found = validate_frame(pl.DataFrame({"rate": [float("nan"), None]}), table)
    assert [("out_of_bounds", 1), ("required_missing", 2)] == [(p.rule, p.row) for p in found]


def test_repeated_keys_are_reported_from_the_second_row_on_and_blanks_never_clash() -> None:
    rows = [{}, {"count": None}, {"name": "b", "count": None}, {"name": "c"}]
    expected = [
        ("duplicate_key", "name", 2, "a"),
        ("duplicate_key", "word, count", 4, "on, 1"),
    ]
    assert expected == _found(*rows)


def test_a_row_rule_blames_the_row_where_it_is_false() -> None:
    rule = Rule("low", "error", "t", "w", "n", "held", "rate", "rate >= count", None, (), "check")
    other = Rule("off", "error", "t", "w", "n", "runs", None, "false", None, (), "check")
    frame = _frame({}, {"name": "b", "count": 5, "rate": 2.0}, {"name": "c", "count": None})
    assert [Problem("held", "low", "rate", 2, "2.0")] == validate_frame(frame, TABLE, [rule, other])


def test_a_rule_that_polars_does_not_understand_is_the_contracts_error() -> None:
    rule = Rule("odd", "error", "t", "w", "n", "held", None, "no such ( thing", None, (), "check")
    with pytest.raises(ContractError, match="rule odd"):
        validate_frame(_frame({}), TABLE, [rule])


def test_wrong_columns_are_reported_alone() -> None:
    frame = _frame({"count": 99})
    expected = {
        "missing": [("wrong_columns", "flag")],
        "further": [("wrong_columns", "zz")],
        "type": [("wrong_type", "count")],
    }
    changed = {
        "missing": frame.drop("flag"),
        "further": frame.with_columns(zz=1),
        "type": frame.with_columns(pl.col("count").cast(pl.Float64)),
    }
    actual = {
        name: [(held.rule, held.column) for held in validate_frame(wrong, TABLE)]
        for name, wrong in changed.items()
    }
    assert expected == actual


def test_columns_in_another_order_are_refused() -> None:
    frame = _frame({}).select(reversed(TABLE.field_names))
    assert {"wrong_columns"} == {held.rule for held in validate_frame(frame, TABLE)}


def test_a_frame_that_breaks_its_contract_is_refused_with_its_place() -> None:
    with pytest.raises(FrameError) as caught:
        require_frame(_frame({}, {"name": "b", "count": 0, "rate": -1.0}), TABLE)
    error = caught.value
    assert ("held", 2, "count", "0") == (error.file, error.row, error.column, error.value)
    assert error.message == "2 problem(s) in table held: out_of_bounds"
    require_frame(_frame({}), TABLE)


def test_frames_and_texts_are_judged_alike(texts: TextTables, contract: Contract) -> None:
    table = contract.wide("handed_in", "runs")
    good = {field.name: str(field.example) for field in table.fields if field.example is not None}
    changes: list[dict[str, str | None]] = [
        {},
        {},
        {"run": "1", "level": "X 16"},
        {"run": "2", "pass": "1000"},
        {"run": "3", "average_fps": "0.01"},
        {"run": "4", "role": "unknown"},
        {"run": "5", "level_check": "é" * 401},
        {"run": "6", "workload": None},
    ]
    held = texts.put(table, [good | change for change in changes])
    found = texts.ask(compile_checks(table, relation=held))
    by_sql = {(rule, row - 1, column) for rule, row, column, _ in found}  # type: ignore[operator]
    frame = texts.con.sql(typed_select(table, held, keep_row=False)).pl()
    by_frame = {(wrong.rule, wrong.row, wrong.column) for wrong in validate_frame(frame, table)}
    assert (7, by_sql) == (len(by_frame), by_frame)
