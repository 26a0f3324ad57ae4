"""Reading schema/: what is wrong in it is named, with its file and key."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.contract import load_contract
from rigledger.contract.load import schema_folder
from rigledger.errors import ContractError

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.contract import Contract


@pytest.fixture
def schema(tmp_path: Path) -> Path:
    return shutil.copytree(schema_folder(), tmp_path / "schema")


def test_the_contract_is_read_once(contract: Contract) -> None:
    assert contract is load_contract(schema_folder())


def test_a_tables_words_come_from_its_vocabulary(contract: Contract) -> None:
    field = contract.table("handed_in", "runs").field("role")
    assert field.enum == tuple(contract.vocabularies["handed_in_role"].terms)


def test_a_wide_table_has_the_metrics_in_the_order_asked_for(contract: Contract) -> None:
    own = contract.table("handed_in", "runs").field_names
    wide = contract.wide("handed_in", "runs", ("low_1pct_rank_fps", "average_fps"))
    assert (*own, "low_1pct_rank_fps", "average_fps") == wide.field_names


def test_a_metric_column_shows_how_its_numbers_are_written(contract: Contract) -> None:
    fields = [metric.as_field() for metric in contract.metrics.values()]
    assert all(field.minimum <= field.example <= field.maximum for field in fields)
    assert contract.metric("average_fps").as_field().example == 59.6


@pytest.mark.parametrize(
    ("ask", "message", "offered"),
    [
        (lambda held: held.table("source", "run"), "no source table 'run'", "'runs'"),
        (lambda held: held.metric("averge_fps"), "no metric 'averge_fps'", "'average_fps'"),
        (lambda held: held.rule("too_lng"), "no rule 'too_lng'", "'too_long'"),
        (
            lambda held: held.table("source", "runs").field("levl"),
            "table runs has no field 'levl'",
            "'level'",
        ),
    ],
)
def test_a_misspelt_name_is_answered_with_the_nearest(
    contract: Contract, ask: Callable[[Contract], object], message: str, offered: str
) -> None:
    with pytest.raises(ContractError) as caught:
        ask(contract)
    assert caught.value.message == message
    assert offered in (caught.value.next_step or "")


def _change(path: Path, change: Callable[[dict[str, Any]], object]) -> None:
    held = json.loads(path.read_text(encoding="utf-8"))
    change(held)
    path.write_text(json.dumps(held), encoding="utf-8")


@pytest.mark.parametrize(
    ("change", "message", "column", "offered"),
    [
        (
            lambda held: held.update(primarykey=[]),
            "unknown key in the table",
            "primarykey",
            "primaryKey",
        ),
        (lambda held: held.pop("title"), "a key is missing in the table", "title", None),
        (
            lambda held: held["fields"][0].update(tpye="x"),
            "unknown key in field rig",
            "tpye",
            "type",
        ),
        (lambda held: held["fields"][0].update(type="text"), "unknown type", "rig", "string"),
        (
            lambda held: held["fields"][0].pop("name"),
            "a key is missing in field None",
            "name",
            None,
        ),
        (
            lambda held: held["fields"][0]["constraints"].update(minimun=1),
            "unknown key in the constraints of rig",
            "minimun",
            "minimum",
        ),
        (
            lambda held: held["fields"][0].update(vocabulary="rol"),
            "unknown vocabulary",
            "rig",
            "role",
        ),
        (
            lambda held: held.update(
                foreignKeys=[
                    {"fields": ["rig", "run"], "reference": {"resource": "r", "fields": ["a", "b"]}}
                ]
            ),
            "a foreign key has one column",
            "['rig', 'run']",
            None,
        ),
    ],
)
def test_a_broken_table_is_named_with_its_key(
    schema: Path,
    change: Callable[[dict[str, Any]], object],
    message: str,
    column: str,
    offered: str | None,
) -> None:
    _change(schema / "tables" / "handed_in" / "runs.json", change)
    with pytest.raises(ContractError) as caught:
        load_contract(schema)
    error = caught.value
    assert (message, "runs.json", column) == (error.message, error.file, error.column)
    assert (offered is None) == (error.next_step is None)
    assert (offered or "") in (error.next_step or "")


@pytest.mark.parametrize(
    ("file", "text", "message"),
    [
        ("rules.toml", "[a]\nseverity = 'error'\n", "a key is missing in a"),
        ("metrics.toml", "[a]\ntail = 1\n", "unknown key in a"),
        ("metrics.toml", "a = 1\n", "a must be a table of keys"),
        ("vocabularies.toml", "[a]\nterms.x = 'y'\n", "a key is missing in a"),
        ("units.toml", "define = []\n[[unit]]\nunit = 'm'\n", "a key is missing in m"),
        ("contract.toml", "version = ", "can't be read: Invalid value (at end of document)"),
        ("tables/source/runs.json", "{", "can't be read: "),
    ],
)
def test_a_broken_list_is_named(schema: Path, file: str, text: str, message: str) -> None:
    (schema / file).write_text(text, encoding="utf-8")
    with pytest.raises(ContractError) as caught:
        load_contract(schema)
    assert caught.value.file == file.rsplit("/", 1)[-1]
    assert caught.value.message.startswith(message)


def test_a_rule_that_nothing_finds_is_refused(schema: Path) -> None:
    rule = "severity = 'error'\ntitle = 't'\nwhy = 'W.'\nnext_step = 'N.'\ntable = 'runs'\n"
    (schema / "rules.toml").write_text(f"[lonely]\n{rule}", encoding="utf-8")
    with pytest.raises(ContractError) as caught:
        load_contract(schema)
    assert caught.value.next_step == "add a check, a file rules/lonely.sql, or found_by"


def test_a_folder_without_a_contract_is_refused(tmp_path: Path) -> None:
    with pytest.raises(ContractError, match=r"contract\.toml|vocabularies\.toml"):
        load_contract(tmp_path)
