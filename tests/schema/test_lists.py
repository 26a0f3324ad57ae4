"""Checks of metrics, vocabularies, units and rules in schema/. Each gathers what is wrong."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import duckdb
import polars as pl

from rigledger.contract.compile_sql import CELL_RULES, KEY_RULES, compile_rule
from rigledger.contract.load import schema_folder

if TYPE_CHECKING:
    from rigledger.contract import Contract, Table


def test_every_vocabulary_is_used_and_every_one_used_exists(contract: Contract) -> None:
    used = {held.vocabulary for table in contract.tables.values() for held in table.fields}
    known = {*contract.vocabularies, "unit"}
    # Facts become columns of the sessions table; a list of releases states their status.
    elsewhere = {"fact", "unit", "release_status"}
    assert (set(), set()) == (used - known - {None}, known - used - elsewhere)


def test_every_term_has_a_meaning_and_a_plain_spelling(contract: Contract) -> None:
    wrong = [
        (held.name, term)
        for held in contract.vocabularies.values()
        for term, meaning in held.terms.items()
        if not meaning.strip() or not re.fullmatch(r"[A-Za-z0-9._-]+", term)
    ]
    assert [] == wrong


def test_fact_units_are_of_the_list_and_belong_to_facts(contract: Contract) -> None:
    facts = contract.vocabularies["fact"]
    assert (set(), set()) == (
        set(facts.units) - set(facts.terms),
        set(facts.units.values()) - set(contract.units),
    )


def test_metrics_use_the_words_of_the_vocabularies(contract: Contract) -> None:
    words = {
        name: set(contract.vocabularies[name].terms)
        for name in ("direction", "comparable", "weighting", "tail_rule")
    }
    wrong = [
        (metric.metric, name)
        for metric in contract.metrics.values()
        for name, allowed in words.items()
        if getattr(metric, name) not in allowed
    ]
    assert [] == wrong


def test_metrics_have_a_unit_of_the_list_a_range_and_a_tail_where_they_need_one(
    contract: Contract,
) -> None:
    wrong = [
        held.metric
        for held in contract.metrics.values()
        if held.unit not in contract.units
        or not 0 < held.least < held.most
        or (held.tail_pct is None) != (held.tail_rule == "none")
    ]
    assert [] == wrong


def test_each_definition_of_a_low_is_a_metric_of_its_own(contract: Contract) -> None:
    shapes = [
        (held.weighting, held.tail_rule, held.tail_pct)
        for held in contract.metrics.values()
        if held.from_frames
    ]
    assert sorted(map(str, set(shapes))) == sorted(map(str, shapes))


def test_the_checks_made_from_the_tables_are_all_rules(contract: Contract) -> None:
    found = {code for code, rule in contract.rules.items() if rule.found_by == "types"}
    assert {*CELL_RULES, *KEY_RULES} == found


def test_rules_are_written_out(contract: Contract) -> None:
    wrong = [
        rule.code
        for rule in contract.rules.values()
        if rule.severity not in contract.vocabularies["severity"].terms
        or not (rule.why.endswith(".") and rule.next_step.endswith("."))
        or not rule.title.strip()
        or rule.title.endswith(".")
    ]
    assert [] == wrong


def test_rules_name_tables_and_columns_that_there_are(contract: Contract) -> None:
    wrong = []
    for rule in contract.rules.values():
        if rule.table == "*":
            continue
        columns = _columns(contract, rule.table)
        if rule.column is not None and rule.column not in columns:
            wrong.append((rule.code, rule.column))
        wrong += [(rule.code, need) for need in rule.needs if not _is_column(contract, need)]
    assert [] == wrong


def _is_column(contract: Contract, place: str) -> bool:
    table, _, column = place.partition(".")
    return column in _columns(contract, table)


def _columns(contract: Contract, table: str) -> tuple[str, ...]:
    return contract.wide("handed_in", table).field_names


def test_every_query_belongs_to_a_rule_and_no_rule_has_two_ways(contract: Contract) -> None:
    files = {path.stem for path in (schema_folder() / "rules").glob("*.sql")}
    both = [rule.code for rule in contract.rules.values() if rule.check and rule.sql]
    assert (set(), []) == (files - set(contract.rules), both)


def _typed(con: duckdb.DuckDBPyConnection, table: Table) -> None:
    types = {"string": "varchar", "integer": "bigint", "number": "double", "datetime": "timestamp"}
    columns = [f'"{held.name}" {types.get(held.type, held.type)}' for held in table.fields]
    con.execute(f"create table handed.{table.name} (_row bigint, {', '.join(columns)})")


def test_every_row_check_runs_in_duckdb_and_is_understood_by_polars(contract: Contract) -> None:
    checks = [rule for rule in contract.rules.values() if rule.check]
    with duckdb.connect() as con:
        con.execute("create schema handed")
        for table in contract.group("handed_in"):
            _typed(con, contract.wide("handed_in", table.name))
        answers = [con.execute(compile_rule(rule)).fetchall() for rule in checks]
    assert [[]] * len(checks) == answers
    assert len(checks) == len([pl.sql_expr(str(rule.check)) for rule in checks])
