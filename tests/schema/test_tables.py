"""Checks of the tables in schema/ themselves. Each gathers what is wrong and expects nothing."""

from __future__ import annotations

import json
import re
from datetime import date
from typing import TYPE_CHECKING

import pytest

from rigledger.contract.compile_sql import compile_checks
from rigledger.contract.descriptor import example_text
from rigledger.contract.load import schema_folder
from rigledger.contract.units import registry

if TYPE_CHECKING:
    from collections.abc import Iterator

    import duckdb

    from rigledger.contract import Contract, Field, Table


def _fields(tables: list[Table]) -> Iterator[tuple[str, Table, Field]]:
    for table in tables:
        for field in table.fields:
            yield f"{table.group}/{table.name}.{field.name}", table, field


def test_there_are_tables_of_every_group(tables: list[Table]) -> None:
    assert {table.group for table in tables} == {"handed_in", "source", "derived", "study"}


def test_names_are_plain_and_used_once_in_their_table(tables: list[Table]) -> None:
    plain = re.compile(r"[a-z][a-z0-9_]*")
    wrong = [place for place, _, field in _fields(tables) if not plain.fullmatch(field.name)]
    twice = [table.name for table in tables if len(set(table.field_names)) < len(table.fields)]
    assert ([], []) == (wrong, twice)


def test_files_are_named_as_their_tables(tables: list[Table]) -> None:
    files = sorted(
        (path.parent.name, path.stem) for path in schema_folder().glob("tables/*/*.json")
    )
    assert files == sorted((table.group, table.name) for table in tables)


def test_files_are_written_in_one_layout() -> None:
    uneven = [
        path.name
        for path in schema_folder().glob("tables/*/*.json")
        if path.read_text(encoding="utf-8").rstrip("\n")
        != _layout(path.read_text(encoding="utf-8"))
    ]
    assert [] == uneven


def _layout(text: str) -> str:
    return json.dumps(json.loads(text), indent=2, ensure_ascii=False)


def test_keys_name_columns_of_their_table(tables: list[Table]) -> None:
    wrong = [
        (table.name, name)
        for table in tables
        for name in (
            *table.primary_key,
            *(name for key in table.unique_keys for name in key),
            *(key.field for key in table.foreign_keys),
        )
        if name not in table.field_names
    ]
    assert [] == wrong


def test_primary_keys_are_required_and_compare_as_text(tables: list[Table]) -> None:
    # Keys are compared as written: a number could be written in two ways.
    wrong = [
        place
        for place, table, field in _fields(tables)
        if field.name in table.primary_key
        and (not field.required or field.type in {"number", "datetime"})
    ]
    assert [] == wrong


def test_source_tables_have_a_primary_key(contract: Contract) -> None:
    assert [] == [table.name for table in contract.group("source") if not table.primary_key]


def test_foreign_keys_lead_to_the_primary_key_of_a_table(tables: list[Table]) -> None:
    held = {(table.group, table.name): table for table in tables}
    wrong = []
    for table in tables:
        for key in table.foreign_keys:
            target = held.get((table.group, key.table)) or held.get(("source", key.table))
            if target is None or target.primary_key != (key.reference,):
                wrong.append((table.group, table.name, key))
    assert [] == wrong


def test_foreign_keys_have_the_type_and_form_of_what_they_lead_to(tables: list[Table]) -> None:
    held = {(table.group, table.name): table for table in tables}
    wrong = []
    for table in tables:
        for key in table.foreign_keys:
            target = held.get((table.group, key.table)) or held["source", key.table]
            mine, other = table.field(key.field), target.field(key.reference)
            if (mine.type, mine.pattern) != (other.type, other.pattern):
                wrong.append((table.group, table.name, key.field))
    assert [] == wrong


def test_every_number_has_both_bounds_and_a_unit(tables: list[Table]) -> None:
    numbers = [item for item in _fields(tables) if item[2].type in {"integer", "number"}]
    unbounded = [place for place, _, held in numbers if None in (held.minimum, held.maximum)]
    unitless = [
        place for place, _, held in numbers if (held.unit is None) == (held.unit_from is None)
    ]
    assert (True, [], []) == (len(numbers) > 50, unbounded, unitless)


def test_bounds_are_in_order_and_dates_have_both(tables: list[Table]) -> None:
    wrong = [
        place
        for place, _, held in _fields(tables)
        if held.minimum is not None and held.maximum is not None and held.minimum >= held.maximum  # type: ignore[operator]
    ]
    dates = [held for *_, held in _fields(tables) if held.type == "date"]
    assert ([], [True] * len(dates)) == (wrong, [_is_range(held) for held in dates])


def _is_range(field: Field) -> bool:
    return date.fromisoformat(str(field.minimum)) < date.fromisoformat(str(field.maximum))


def test_every_unit_is_on_the_closed_list_and_parses(
    contract: Contract, tables: list[Table]
) -> None:
    used = {held.unit for *_, held in _fields(tables) if held.unit is not None}
    assert ([], len(used)) == (
        sorted(used - set(contract.units)),
        len([unit for unit in used if registry().Unit(unit)]),
    )


def test_units_from_elsewhere_name_a_column_that_there_is(tables: list[Table]) -> None:
    columns = {f"{table.name}.{name}" for table in tables for name in table.field_names}
    wrong = [
        place
        for place, _, held in _fields(tables)
        if held.unit_from and held.unit_from not in columns
    ]
    assert [] == wrong


def test_only_text_has_patterns_words_and_lengths_and_only_numbers_units(
    tables: list[Table],
) -> None:
    wrong = [
        place
        for place, _, held in _fields(tables)
        if (held.type != "string" and (held.pattern or held.enum or held.max_length))
        or (held.type not in {"integer", "number"} and (held.unit or held.unit_from))
    ]
    assert [] == wrong


def test_every_text_is_held_by_a_pattern_a_word_list_or_a_length(tables: list[Table]) -> None:
    loose = [
        place
        for place, _, held in _fields(tables)
        if held.type == "string" and not (held.pattern or held.enum or held.max_length)
    ]
    assert [] == loose


def test_every_title_and_description_is_written_and_descriptions_end_with_a_full_stop(
    tables: list[Table],
) -> None:
    wrong = [place for place, _, held in _fields(tables) if not _reads_well(held)]
    assert ([], []) == (wrong, [table.name for table in tables if not _reads_well(table)])


def _reads_well(held: Field | Table) -> bool:
    return bool(held.title.strip()) and bool(re.search(r"\S.*\.$", held.description))


def test_every_field_of_a_file_has_an_example(contract: Contract) -> None:
    without = [
        f"{table.group}/{table.name}.{field.name}"
        for table in contract.tables.values()
        for field in table.fields
        if field.example is None
    ]
    assert [] == without


@pytest.mark.parametrize("group", ["handed_in", "source", "derived", "study"])
def test_examples_keep_their_own_constraints(
    contract: Contract, con: duckdb.DuckDBPyConnection, group: str
) -> None:
    found = {}
    for table in contract.group(group):  # type: ignore[arg-type]
        columns = ", ".join(f'"{name}" varchar' for name in table.field_names)
        con.execute(f"create or replace table held (_row bigint, {columns})")
        marks = ", ".join("?" for _ in table.fields)
        values = [example_text(field) for field in table.fields]
        con.execute(f"insert into held values (2, {marks})", values)
        found[table.name] = con.execute(compile_checks(table, relation="held")).fetchall()
    assert {} == {name: wrong for name, wrong in found.items() if wrong}
