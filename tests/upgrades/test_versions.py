"""The contract's history is whole: each version is kept, and each difference is named."""

from __future__ import annotations

from typing import TYPE_CHECKING, get_args

import pytest

from rigledger.contract.descriptor import table_schema
from rigledger.contract.load import read_contract
from rigledger.contract.migrations import Place, schema_hash
from rigledger.contract.model import Group
from rigledger.release.version import is_tighter

if TYPE_CHECKING:
    from collections.abc import Iterator

    from conftest import Kept
    from rigledger.contract import Contract, Table
    from rigledger.contract.migrations import History


def test_the_newest_version_is_the_contracts(history: History, contract: Contract) -> None:
    assert history.versions[-1].version == contract.version


def test_the_contract_is_what_its_newest_version_lists(listed: tuple[str, str]) -> None:
    """See DEVELOPERS.md, Raising the contract's version."""
    found, kept = listed
    assert found.splitlines() == kept.splitlines()


def test_each_older_version_is_kept_with_its_contract(kept: Kept, history: History) -> None:
    for release in (kept.first, kept.release):
        assert read_contract(release / "schema").version == kept.contract
        found = schema_hash(release / "schema")
        assert history.version(kept.contract).schema_sha256 == found


def places_of(history: History, since: str, kind: str) -> set[Place]:
    steps = history.since(since)
    if kind == "columns":
        return {place for step in steps for place, _ in step.columns}
    return {place for step in steps for place in getattr(step, kind)}


def pairs(old: Contract, new: Contract) -> Iterator[tuple[Table, Table]]:
    for key, table in new.tables.items():
        if key in old.tables:
            yield old.tables[key], table


def tightened(old: Table, new: Table) -> Iterator[Place]:
    before = {field["name"]: field for field in table_schema(old)["fields"]}
    for field in table_schema(new)["fields"]:
        held = before.get(field["name"], field)
        was, becomes = held.get("constraints", {}), field.get("constraints", {})
        if held["type"] != field["type"] or any(
            was.get(name) != value and is_tighter(name, was.get(name), value)
            for name, value in becomes.items()
        ):
            yield Place(new.group, new.name, field["name"])


def test_every_difference_between_versions_is_named(
    kept: Kept, history: History, contract: Contract
) -> None:
    old = read_contract(kept.release / "schema")
    named = {
        kind: places_of(history, kept.contract, kind)
        for kind in ("columns", "new_tables", "gone_columns", "tightened")
    }
    tables = {Place(group, name) for group, name in contract.tables.keys() - old.tables.keys()}
    both = [
        pair for pair in pairs(old, contract)
        if Place(pair[1].group, pair[1].name) not in named["new_tables"]
    ]  # fmt: skip
    columns = {
        Place(new.group, new.name, name)
        for before, new in both
        for name in set(new.field_names) - set(before.field_names)
    }
    gone = {
        Place(new.group, new.name, name)
        for before, new in both
        for name in set(before.field_names) - set(new.field_names)
    }
    tighter = {place for before, new in both for place in tightened(before, new)}
    assert tables - named["new_tables"] == set()
    assert columns == named["columns"]
    assert gone == named["gone_columns"]
    assert tighter == named["tightened"]
    assert old.tables.keys() - contract.tables.keys() == set()
    assert [(new.group, new.name) for before, new in both if keys(before) != keys(new)] == []


def keys(table: Table) -> tuple[object, ...]:
    return (table.primary_key, table.unique_keys, table.foreign_keys)


@pytest.mark.parametrize("group", get_args(Group))
def test_places_of_migrations_are_of_the_contract(
    group: Group, history: History, contract: Contract
) -> None:
    known = {table.name: table.field_names for table in contract.group(group)}
    named = [
        place
        for step in history.migrations
        for place in (*(place for place, _ in step.columns), *step.new_tables, *step.tightened)
        if place.group == group
    ]
    assert [
        str(place)
        for place in named
        if place.table not in known or (place.column and place.column not in known[place.table])
    ] == []
