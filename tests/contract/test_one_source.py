"""One source, three uses: an addition to schema/ alone shows up in descriptor, SQL and frames."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.contract import load_contract
from rigledger.contract.compile_sql import compile_checks, compile_rules, typed_select
from rigledger.contract.descriptor import resource, table_schema
from rigledger.contract.load import schema_folder
from rigledger.contract.pandera_schemas import validate_frame

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.contract import Contract, Table

    from .conftest import TextTables

LOW_TENTH = """
[low_tenth_pct_rank_fps]
title = "0.1% low by rank: 1000 divided by the 99.9th percentile of frame time in ms"
unit = "fps"
direction = "higher"
comparable = "everywhere"
weighting = "frame"
tail_rule = "percentile"
tail_pct = 0.1
fewest_frames = 10000
least = 0.01
most = 10000
"""
LOAD_TIME = """
[load_time_s]
title = "time from the menu to the first frame of the scene"
unit = "s"
direction = "lower"
comparable = "everywhere"
weighting = "none"
tail_rule = "none"
fewest_frames = 0
least = 0.001
most = 3600
"""
RULE = """
[load_longer_than_run]
severity = "remark"
title = "loading took longer than the run"
why = "The two columns are easily swapped."
next_step = "Check which of the two is the loading time."
table = "runs"
column = "load_time_s"
check = "load_time_s <= duration_s"
"""


@pytest.fixture
def schema(tmp_path: Path) -> Path:
    return shutil.copytree(schema_folder(), tmp_path / "schema")


def _append(path: Path, text: str) -> None:
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")


def _runs(contract: Contract) -> Table:
    return contract.wide("handed_in", "runs")


def _good(table: Table) -> dict[str, str | None]:
    return {field.name: str(field.example) for field in table.fields if field.example is not None}


def _fields(table: Table) -> dict[str, dict[str, Any]]:
    return {field["name"]: field for field in table_schema(table)["fields"]}


def _by_sql(texts: TextTables, table: Table, cells: dict[str, str]) -> list[tuple[object, ...]]:
    held = texts.put(table, [_good(table) | cells])
    return texts.ask(compile_checks(table, relation=held))


def _by_frame(texts: TextTables, table: Table, cells: dict[str, str]) -> list[tuple[str, Any]]:
    held = texts.put(table, [_good(table) | cells])
    frame = texts.con.sql(typed_select(table, held, keep_row=False)).pl()
    return [(problem.rule, problem.column) for problem in validate_frame(frame, table)]


def test_a_new_field_changes_all_three(schema: Path, texts: TextTables) -> None:
    path = schema / "tables" / "handed_in" / "runs.json"
    held = json.loads(path.read_text(encoding="utf-8"))
    field = {
        "name": "room_noise_db",
        "title": "Room noise",
        "description": "Noise in the room.",
        "type": "number",
        "unit": "dimensionless",
        "constraints": {"minimum": 0, "maximum": 140},
    }
    held["fields"].append(field)
    path.write_text(json.dumps(held), encoding="utf-8")
    table = _runs(load_contract(schema))
    assert field == _fields(table)["room_noise_db"]
    assert [("out_of_bounds", 2, "room_noise_db", "141")] == _by_sql(
        texts, table, {"room_noise_db": "141"}
    )
    assert [("out_of_bounds", "room_noise_db")] == _by_frame(texts, table, {"room_noise_db": "141"})


@pytest.mark.parametrize(
    ("entry", "name", "too_much"),
    [
        (LOW_TENTH, "low_tenth_pct_rank_fps", "10001"),
        (LOAD_TIME, "load_time_s", "3601.5"),
    ],
)
def test_a_new_metric_changes_all_three(
    schema: Path, texts: TextTables, entry: str, name: str, too_much: str
) -> None:
    _append(schema / "metrics.toml", entry)
    contract = load_contract(schema)
    table = _runs(contract)
    metric, held = contract.metric(name), _fields(table)[name]
    assert (metric.unit, metric.least) == (held["unit"], held["constraints"]["minimum"])
    assert name in [field["name"] for field in _wide_fields(contract)]
    assert [("out_of_bounds", 2, name, too_much)] == _by_sql(texts, table, {name: too_much})
    assert [("type_spelling", 2, name, "1,5")] == _by_sql(texts, table, {name: "1,5"})
    assert [("out_of_bounds", name)] == _by_frame(texts, table, {name: too_much})
    assert [] == _by_sql(texts, table, {name: "1.5"})


def _wide_fields(contract: Contract) -> list[dict[str, Any]]:
    fields: list[dict[str, Any]] = table_schema(contract.wide("derived", "runs_wide"))["fields"]
    return fields


def test_a_new_rule_changes_all_three(schema: Path, texts: TextTables) -> None:
    _append(schema / "metrics.toml", LOAD_TIME)
    _append(schema / "rules.toml", RULE)
    contract = load_contract(schema)
    table, rule = _runs(contract), contract.rule("load_longer_than_run")
    listed = resource(
        table, path="runs.csv", sha256="0" * 64, size=1, rules=contract.rules.values()
    )
    entry = {
        "code": "load_longer_than_run",
        "title": "loading took longer than the run",
        "severity": "remark",
    }
    assert entry in listed["rules"]

    cells = _good(table) | {"load_time_s": "61.5", "duration_s": "60.0"}
    held = texts.put(table, [cells, cells | {"run": "018", "load_time_s": None}])
    texts.con.execute("create schema handed")
    texts.con.execute(f"create table handed.runs as {typed_select(table, held)}")
    found = ("load_longer_than_run", "runs", 2, "load_time_s", "61.5", None)
    assert [found] == texts.ask(compile_rules([rule]))

    frame = texts.con.sql("select * exclude (_row) from handed.runs").pl()
    problems = validate_frame(frame, table, [rule])
    assert [("load_longer_than_run", "load_time_s", 1, "61.5")] == [
        (held.rule, held.column, held.row, held.value) for held in problems
    ]


def test_a_new_word_is_allowed_by_all_three(schema: Path, texts: TextTables) -> None:
    cells = {"role": "rehearsal"}
    before = _runs(load_contract(schema))
    assert [("not_in_vocabulary", 2, "role", "rehearsal")] == _by_sql(texts, before, cells)
    path = schema / "vocabularies.toml"
    text = path.read_text(encoding="utf-8")
    part = "[handed_in_role]\n"
    added = f'{part}terms.rehearsal = "to try things out"\n'
    path.write_text(text.replace(part, added), encoding="utf-8")
    # A folder is read once; another name of the same folder's copy is read afresh.
    table = _runs(load_contract(shutil.copytree(schema, schema.with_name("changed"))))
    assert "rehearsal" in _fields(table)["role"]["constraints"]["enum"]
    assert ([], []) == (_by_sql(texts, table, cells), _by_frame(texts, table, cells))
