"""The compiled checks, casts and rules on whole tables, asked of real DuckDB."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import Field, ForeignKey, Rule, Table
from rigledger.contract.compile_sql import compile_checks, compile_rule, compile_rules, typed_select

if TYPE_CHECKING:
    import duckdb

    from rigledger.contract import Contract

    from .conftest import TextTables

RUN: dict[str, str | None] = {
    "rig": "p1-fast",
    "session": "3",
    "run": "017",
    "workload": "harbour-dawn",
    "title_build": "1.0.4",
    "resolution": "1920x1080",
    "level": "x16",
    "level_state": "effective",
    "role": "measured",
    "pass": "1",
    "average_fps": "142.70",
}


def _text(name: str, **constraints: object) -> Field:
    return Field(name, name, "A column.", "string", **constraints)  # type: ignore[arg-type]


def _rule(**changes: object) -> Rule:
    plain = Rule("r", "remark", "t", "w", "n", "runs", None, None, None, (), "sql")
    return replace(plain, **changes)  # type: ignore[arg-type]


def test_a_clean_table_has_no_violation(texts: TextTables, contract: Contract) -> None:
    table = contract.wide("handed_in", "runs")
    held = texts.put(table, [RUN, RUN | {"run": "018"}])
    assert [] == texts.ask(compile_checks(table, relation=held))


def test_every_violation_is_reported_with_its_rule_row_column_and_value(
    texts: TextTables, contract: Contract
) -> None:
    table = contract.wide("handed_in", "runs")
    rows = [
        RUN,
        RUN,
        RUN | {"run": "018", "level": None, "pass": "1.0"},
        RUN | {"run": "019", "resolution": "1080p", "average_fps": "1e400"},
        RUN | {"run": "020", "role": "Measured", "title_build": "b" * 121},
    ]
    expected = [
        ("duplicate_key", 3, "rig, session, run", "p1-fast, 3, 017"),
        ("not_in_vocabulary", 6, "role", "Measured"),
        ("out_of_bounds", 5, "average_fps", "1e400"),
        ("pattern_mismatch", 5, "resolution", "1080p"),
        ("required_missing", 4, "level", None),
        ("too_long", 6, "title_build", "b" * 121),
        ("type_spelling", 4, "pass", "1.0"),
    ]
    assert expected == texts.ask(compile_checks(table, relation=texts.put(table, rows)))


def test_rows_keep_their_physical_numbers(texts: TextTables, contract: Contract) -> None:
    table = contract.wide("handed_in", "runs")
    held = texts.put(table, [RUN, RUN | {"run": "018", "pass": "0"}])
    texts.con.execute(f"update {held} set _row = _row * 1000000007")
    expected = [("out_of_bounds", 3000000021, "pass", "0")]
    assert expected == texts.ask(compile_checks(table, relation=held))


def test_columns_that_are_not_there_are_left_out(texts: TextTables, contract: Contract) -> None:
    table = contract.wide("handed_in", "runs")
    held = texts.put(table, [RUN, RUN | {"pass": "x"}])
    texts.con.execute(f"alter table {held} drop column run")
    columns = [name for name in table.field_names if name != "run"]
    query = compile_checks(table, relation=held, columns=columns)
    assert [("type_spelling", 3, "pass", "x")] == texts.ask(query)


def test_without_any_column_nothing_is_found(texts: TextTables, contract: Contract) -> None:
    table = contract.wide("handed_in", "runs")
    assert [] == texts.ask(compile_checks(table, relation=texts.put(table, [{}]), columns=[]))


def test_each_row_after_the_first_repeats_a_key(texts: TextTables) -> None:
    table = Table("t", "source", "T", "T.", (_text("a"), _text("b")), primary_key=("a", "b"))
    rows = [{"a": "1", "b": "x"}, {"a": "1", "b": "y"}, {"a": "1", "b": "x"}, {"a": "1", "b": "x"}]
    expected = [("duplicate_key", 4, "a, b", "1, x"), ("duplicate_key", 5, "a, b", "1, x")]
    assert expected == texts.ask(compile_checks(table, relation=texts.put(table, rows)))


def test_a_key_is_not_fooled_by_the_comma_in_a_value(texts: TextTables) -> None:
    table = Table("t", "source", "T", "T.", (_text("a"), _text("b")), primary_key=("a", "b"))
    rows = [{"a": "1, 2", "b": "3"}, {"a": "1", "b": "2, 3"}]
    assert [] == texts.ask(compile_checks(table, relation=texts.put(table, rows)))


def test_a_half_blank_primary_key_repeats_and_a_half_blank_unique_key_does_not(
    texts: TextTables,
) -> None:
    fields = (_text("a"), _text("b"))
    rows: list[dict[str, str | None]] = [{"a": "1", "b": None}, {"a": "1", "b": ""}]
    primary = Table("t", "source", "T", "T.", fields, primary_key=("a", "b"))
    unique = Table("t", "source", "T", "T.", fields, unique_keys=(("a", "b"),))
    held = texts.put(primary, rows)
    assert ([("duplicate_key", 3, "a, b", "1, ")], []) == (
        texts.ask(compile_checks(primary, relation=held)),
        texts.ask(compile_checks(unique, relation=held)),
    )


def test_every_row_with_an_unknown_reference_is_reported(texts: TextTables) -> None:
    key = ForeignKey("rig", "rigs", "rig")
    rigs = Table("rigs", "handed_in", "R", "R.", (_text("rig"),))
    runs = Table("runs", "handed_in", "R", "R.", (_text("rig"),), foreign_keys=(key,))
    known = texts.put(rigs, [{"rig": "p1"}, {"rig": "p1"}, {"rig": None}], "rigs")
    held = texts.put(runs, [{"rig": "p1"}, {"rig": "p2"}, {"rig": None}, {"rig": "p2"}], "runs")
    query = compile_checks(runs, relation=held, references={"rigs": known})
    expected = [("unknown_reference", 3, "rig", "p2"), ("unknown_reference", 5, "rig", "p2")]
    assert expected == texts.ask(query)


def test_a_reference_without_a_relation_is_not_checked(texts: TextTables) -> None:
    key = ForeignKey("rig", "rigs", "rig")
    runs = Table("runs", "handed_in", "R", "R.", (_text("rig"),), foreign_keys=(key,))
    assert [] == texts.ask(compile_checks(runs, relation=texts.put(runs, [{"rig": "p2"}])))


def test_names_and_values_of_the_contract_are_quoted(texts: TextTables) -> None:
    field = _text('a"b', enum=("it's",), required=True)
    table = Table("t", "source", "T", "T.", (field,), primary_key=('a"b',))
    texts.con.execute('create table odd (_row bigint, "a""b" varchar)')
    texts.con.execute("insert into odd values (2, 'it''s'), (3, 'it')")
    expected = [("not_in_vocabulary", 3, 'a"b', "it")]
    assert expected == texts.ask(compile_checks(table, relation="odd"))


def test_a_cast_table_has_the_contracts_columns_types_and_order(
    texts: TextTables, con: duckdb.DuckDBPyConnection, contract: Contract
) -> None:
    table = contract.table("source", "runs")
    held = texts.put(table, [{"run": "a", "duration_s": "60"}])
    shape = con.sql(typed_select(table, held))
    kinds = {"string": "VARCHAR", "integer": "BIGINT", "number": "DOUBLE", "datetime": "TIMESTAMP"}
    expected = {"_row": "BIGINT"} | {field.name: kinds[field.type] for field in table.fields}
    assert expected == dict(zip(shape.columns, map(str, shape.types), strict=True))


def test_a_column_that_is_not_there_is_cast_to_null(texts: TextTables) -> None:
    fields = (_text("a"), Field("n", "N", "N.", "integer"))
    table = Table("t", "source", "T", "T.", fields)
    texts.con.execute("create table narrow as select 2::bigint as _row, 'x' as a")
    assert [(2, "x", None)] == texts.ask(typed_select(table, "narrow", columns=["a"]))


def test_sound_columns_are_cast_to_the_same_values(texts: TextTables, contract: Contract) -> None:
    table = contract.wide("handed_in", "sessions")
    cells = {field.name: str(field.example) for field in table.fields if field.example is not None}
    rows = [cells | {"started_at": text} for text in ("2026-10-05T09:12:00+02:00", None)]
    held = texts.put(table, rows)
    sound = typed_select(table, held, sound=table.field_names)
    assert texts.ask(typed_select(table, held)) == texts.ask(sound)


@pytest.fixture
def handed(con: duckdb.DuckDBPyConnection) -> duckdb.DuckDBPyConnection:
    con.execute("create schema handed")
    con.execute(
        "create table handed.runs as from (values (2, 60.0, 61.0), (3, 60.0, 50.0), (4, null, 1.0))"
        " as r(_row, average_fps, low_fps)"
    )
    return con


def test_a_check_reports_the_rows_where_it_is_false_and_not_where_it_is_null(
    handed: duckdb.DuckDBPyConnection, texts: TextTables
) -> None:
    rule = _rule(code="low_above", column="low_fps", check="average_fps >= low_fps")
    assert handed is texts.con
    expected = [("low_above", "runs", 2, "low_fps", "61.0", None)]
    assert expected == texts.ask(compile_rule(rule))


def test_a_query_may_name_another_table_and_leave_the_row_out(
    handed: duckdb.DuckDBPyConnection, texts: TextTables
) -> None:
    sql = (
        "-- what is asked\nselect null as _row, 'sessions' as _table, null as column_name,"
        " count(*) as value, 'three rows' as detail from handed.runs;\n"
    )
    assert handed is texts.con
    assert [("r", "sessions", None, None, "3", "three rows")] == texts.ask(
        compile_rule(_rule(sql=sql))
    )


def test_a_query_that_ends_in_a_comment_compiles(
    handed: duckdb.DuckDBPyConnection, texts: TextTables
) -> None:
    sql = "select _row, 'a' as column_name, low_fps as value, 'd' as detail from handed.runs -- all"
    assert handed is texts.con
    assert [2, 3, 4] == [row for _, _, row, *_ in texts.ask(compile_rule(_rule(sql=sql)))]


def test_rules_are_compiled_together_and_those_found_elsewhere_left_out(
    handed: duckdb.DuckDBPyConnection, texts: TextTables
) -> None:
    rules = [
        _rule(code="a", check="low_fps < 60"),
        _rule(code="b", check="low_fps > 10"),
        _rule(code="gate", found_by="gate"),
    ]
    assert handed is texts.con
    expected = [("a", "runs", 2, None, None, None), ("b", "runs", 4, None, None, None)]
    assert expected == texts.ask(compile_rules(rules))


def test_a_rule_that_sql_cannot_find_is_refused() -> None:
    with pytest.raises(ValueError, match="found by gate"):
        compile_rule(_rule(found_by="gate"))
    with pytest.raises(ValueError, match="no rule here"):
        compile_rules([_rule(found_by="gate")])


def test_every_table_of_the_contract_compiles_and_reports_its_required_columns(
    texts: TextTables, contract: Contract
) -> None:
    for group, name in contract.tables:
        table = contract.wide(group, name)
        held = texts.put(table, [{}])
        texts.con.execute(typed_select(table, held))
        found = texts.ask(compile_checks(table, relation=held))
        required = sorted(field.name for field in table.fields if field.required)
        assert [("required_missing", 2, column, None) for column in required] == sorted(found)
