"""Table Schemas, resources and the descriptor, held against the standard and another reader."""

from __future__ import annotations

import csv
import hashlib
import json
from typing import TYPE_CHECKING, Any

import duckdb
import pytest

from rigledger.contract import Field, ForeignKey, Rule, Table
from rigledger.contract.conformance import profile_errors, prose_errors
from rigledger.contract.descriptor import (
    Contributor,
    example_text,
    file_resource,
    licence,
    package_descriptor,
    resource,
    table_schema,
)

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.contract import Contract

HASH = "0" * 64


def _package(resources: list[dict[str, Any]], contract: Contract, **changes: Any) -> dict[str, Any]:  # noqa: ANN401
    plain = {
        "name": "link-width",
        "title": "Link width",
        "description": "What the width of the link does.",
        "version": "1.0.0",
        "created": "2026-11-25T12:00:00Z",
        "licences": [licence("CC-BY-4.0", contract)],
        "contributors": [Contributor("The rigledger maintainers", ("creator", "dataCurator"))],
        "sources": [{"title": "set anna.autumn-1", "version": "sha256:1"}],
        "keywords": ["link width"],
        "resources": resources,
    }
    return package_descriptor(**(plain | changes))


def _published_tables(contract: Contract) -> list[Table]:
    held = (*contract.group("source"), *contract.group("derived"))
    return [contract.wide(table.group, table.name) for table in held]


def test_a_table_schema_keeps_types_units_words_and_keys() -> None:
    key = ForeignKey("rig", "rigs", "rig")
    table = Table(
        "runs",
        "source",
        "Runs",
        "Runs.",
        (
            Field("rig", "Rig", "The rig.", "string", required=True, pattern="[a-z]+"),
            Field("fps", "Rate", "Rate.", "number", "fps", example=0.5, minimum=0, maximum=9),
            Field("role", "Role", "Role.", "string", vocabulary="role", enum=("a", "b")),
            Field("can", "Can", "Can.", "boolean", example=True),
            Field("next", "Next", "Next.", "string", max_length=9),
        ),
        primary_key=("rig",),
        unique_keys=(("rig", "role"),),
        foreign_keys=(key, ForeignKey("next", "runs", "rig")),
    )
    fields: list[dict[str, object]] = [
        {"name": "rig", "title": "Rig", "description": "The rig.", "type": "string"},
        {"name": "fps", "title": "Rate", "description": "Rate.", "type": "number"},
        {"name": "role", "title": "Role", "description": "Role.", "type": "string"},
        {"name": "can", "title": "Can", "description": "Can.", "type": "boolean"},
        {"name": "next", "title": "Next", "description": "Next.", "type": "string"},
    ]
    fields[0] |= {"constraints": {"required": True, "pattern": "[a-z]+"}}
    fields[1] |= {"unit": "fps", "example": "0.5", "constraints": {"minimum": 0, "maximum": 9}}
    fields[2] |= {"vocabulary": "role", "constraints": {"enum": ["a", "b"]}}
    fields[3] |= {"trueValues": ["true"], "falseValues": ["false"], "example": "true"}
    fields[4] |= {"constraints": {"maxLength": 9}}
    expected = {
        "fields": fields,
        "missingValues": [""],
        "primaryKey": ["rig"],
        "uniqueKeys": [["rig", "role"]],
        "foreignKeys": [
            {"fields": ["rig"], "reference": {"resource": "rigs", "fields": ["rig"]}},
            {"fields": ["next"], "reference": {"fields": ["rig"]}},
        ],
    }
    assert expected == table_schema(table)


def test_a_resource_names_its_hash_size_dialect_and_rules() -> None:
    table = Table("runs", "source", "Runs", "All runs.", (Field("a", "A", "A.", "string"),))
    rules = [
        Rule("mine", "error", "what", "why", "next", "runs", None, "true", None, (), "check"),
        Rule("other", "error", "what", "why", "next", "rigs", None, "true", None, (), "check"),
    ]
    expected = {
        "name": "runs",
        "type": "table",
        "title": "Runs",
        "description": "All runs.",
        "path": "data/runs.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": 5,
        "hash": f"sha256:{HASH}",
        "dialect": {
            "delimiter": ",",
            "lineTerminator": "\n",
            "quoteChar": '"',
            "doubleQuote": True,
        },
        "schema": {
            "fields": [{"name": "a", "title": "A", "description": "A.", "type": "string"}],
            "missingValues": [""],
        },
        "rules": [{"code": "mine", "title": "what", "severity": "error"}],
    }
    assert expected == resource(table, path="data/runs.csv", sha256=HASH, size=5, rules=rules)


@pytest.mark.parametrize(
    ("path", "form"),
    [("a/x.parquet", "apache-parquet"), ("CHANGES.md", "md"), ("LICENSE", "license")],
)
def test_a_file_is_described_without_a_type(path: str, form: str) -> None:
    held = file_resource("x", path=path, sha256=HASH, size=3, title="X", mediatype="text/plain")
    assert (form, False) == (held["format"], "type" in held)


def test_the_whole_contract_conforms_to_the_official_profile(contract: Contract) -> None:
    tables = _published_tables(contract)
    resources = [
        resource(
            table, path=f"data/{table.name}.csv", sha256=HASH, size=1, rules=contract.rules.values()
        )
        for table in tables
    ]
    held = _package(resources, contract)
    assert ([], []) == (profile_errors(held), prose_errors(held))


@pytest.mark.parametrize(
    ("wrong", "place"),
    [
        ({"created": "yesterday"}, "created"),
        ({"licenses": [{"title": "no name"}]}, "licenses/0"),
        ({"$schema": 3}, "$schema"),
        ({"resources": []}, "resources"),
    ],
)
def test_the_profile_refuses_what_is_wrong(
    contract: Contract, wrong: dict[str, Any], place: str
) -> None:
    held = _package([{"name": "a", "path": "a.csv"}], contract) | wrong
    assert [place] == [error.split(":")[0] for error in profile_errors(held)]


@pytest.mark.parametrize("path", ["../x.csv", "/etc/x.csv", "~x.csv", ".hidden.csv"])
def test_the_profile_refuses_paths_that_lead_out(contract: Contract, path: str) -> None:
    held = _package([{"name": "a", "path": path}], contract)
    assert ["resources/0"] == sorted({error.split(":")[0][:11] for error in profile_errors(held)})


def test_the_text_of_the_standard_is_held_too(contract: Contract) -> None:
    table = Table(
        "a",
        "source",
        "A",
        "A.",
        (Field("x", "X", "X.", "string"),),
        ("y",),
        (),
        (ForeignKey("x", "b", "z"),),
    )
    held = [resource(table, path="a.csv", sha256=HASH, size=1)] * 2
    expected = [
        "name: lower-case letters, digits, '.', '_' and '-' only",
        "version: three numbers such as 1.0.0",
        "resources: the name a is used twice",
        *[
            "resources/a: no column y",
            "resources/a: the key ['x'] leads to b, which lacks the column",
        ]
        * 2,
    ]
    assert expected == prose_errors(_package(held, contract, name="Big Name", version="1.0"))


@pytest.fixture
def published(tmp_path: Path, contract: Contract) -> Path:
    """Put a package of every published table with one row of examples into a folder."""
    tables = _published_tables(contract)
    resources = [_example_file(tmp_path, table) for table in tables]
    parquet = tmp_path / "runs.parquet"
    duckdb.sql("select 1 as a").write_parquet(str(parquet))
    data = parquet.read_bytes()
    resources.append(
        file_resource(
            "runs.parquet",
            path=parquet.name,
            sha256=hashlib.sha256(data).hexdigest(),
            size=len(data),
            title="Runs as Parquet",
            mediatype="application/vnd.apache.parquet",
        )
    )
    page = tmp_path / "datapackage.json"
    page.write_text(json.dumps(_package(resources, contract)), encoding="utf-8")
    return page


def _example_file(folder: Path, table: Table) -> dict[str, Any]:
    # References within the one row of examples: the level and the set that there are.
    own = {"to_level": "x16", "supersedes": ""}
    path = folder / f"{table.name}.csv"
    with path.open("w", encoding="utf-8", newline="") as stream:
        writer = csv.writer(stream, lineterminator="\n")
        writer.writerow(table.field_names)
        writer.writerow([own.get(held.name, example_text(held) or "") for held in table.fields])
    data = path.read_bytes()
    return resource(table, path=path.name, sha256=hashlib.sha256(data).hexdigest(), size=len(data))


def test_frictionless_reads_a_package_without_errors_or_warnings(published: Path) -> None:
    from frictionless import Package

    report = Package.from_descriptor(str(published)).validate()
    found = report.flatten(["title", "rowNumber", "fieldName", "message"])
    warnings = [*report.warnings, *(warning for task in report.tasks for warning in task.warnings)]
    assert (True, [], []) == (report.valid, found, warnings)


def test_frictionless_sees_a_changed_byte_in_a_parquet_file(published: Path) -> None:
    from frictionless import Package

    parquet = published.parent / "runs.parquet"
    data = bytearray(parquet.read_bytes())
    data[10] ^= 1
    parquet.write_bytes(data)
    report = Package.from_descriptor(str(published)).validate()
    assert [["hash-count"]] == report.flatten(["type"])
