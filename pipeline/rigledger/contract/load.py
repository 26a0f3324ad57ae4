"""Reads schema/ into the typed objects of the contract."""

from __future__ import annotations

import json
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any, get_args

from rigledger.contract.model import (
    Contract,
    Field,
    ForeignKey,
    Group,
    Metric,
    Rule,
    Table,
    Unit,
    Vocabulary,
)
from rigledger.errors import ContractError, near_names

_FIELD_KEYS = {
    "name", "title", "description", "type", "unit", "unitFrom", "vocabulary", "example",
    "constraints",
}  # fmt: skip
_CONSTRAINT_KEYS = {"required", "minimum", "maximum", "pattern", "maxLength"}
_TABLE_KEYS = {
    "name", "title", "description", "fields", "primaryKey", "uniqueKeys", "foreignKeys",
    "metricColumns", "factColumns", "optional",
}  # fmt: skip
_RULE_KEYS = {
    "severity", "title", "why", "next_step", "table", "column", "check", "sql", "needs",
    "found_by", "passing", "failing",
}  # fmt: skip


def schema_folder() -> Path:
    """Find the contract: inside the installed package, or beside the sources in a checkout.

    Raises:
        ContractError: Neither place holds it.
    """
    package = Path(__file__).resolve().parents[1]
    for place in (package / "_schema", package.parents[1] / "schema"):
        if (place / "contract.toml").is_file():
            return place
    raise ContractError(
        "the schema folder is missing",
        next_step="install rigledger again",
    )


def load_contract(folder: Path | None = None) -> Contract:
    """Read the contract.

    Args:
        folder: A schema folder; None for the one that belongs to this version.

    Returns:
        The contract; the same object for the same folder.

    Raises:
        ContractError: A file is missing, a key is misspelt, or a name is not known.
    """
    return _load((folder or schema_folder()).resolve())


@lru_cache(maxsize=8)
def _load(folder: Path) -> Contract:
    vocabularies = _vocabularies(_toml(folder / "vocabularies.toml"))
    units_file = _toml(folder / "units.toml")
    units = {item["unit"]: _unit(item) for item in units_file["unit"]}
    words = {name: tuple(held.terms) for name, held in vocabularies.items()} | {
        "unit": tuple(units)
    }
    return Contract(
        version=str(_toml(folder / "contract.toml")["version"]),
        tables=_tables(folder / "tables", words),
        metrics={
            name: _metric(name, item) for name, item in _toml(folder / "metrics.toml").items()
        },
        rules=_rules(folder),
        vocabularies=vocabularies,
        units=units,
        unit_definitions=tuple(units_file["define"]),
    )


def _toml(path: Path) -> dict[str, Any]:
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except (OSError, tomllib.TOMLDecodeError) as error:
        raise ContractError(f"can't be read: {error}", file=path.name) from error


def _refuse_unknown(keys: set[str], legal: set[str], file: str, where: str) -> None:
    for key in sorted(keys - legal):
        raise ContractError(
            f"unknown key in {where}", file=file, column=key, next_step=near_names(key, legal)
        )


def _tables(folder: Path, words: dict[str, tuple[str, ...]]) -> dict[tuple[Group, str], Table]:
    tables: dict[tuple[Group, str], Table] = {}
    for group in get_args(Group):
        for path in sorted((folder / group).glob("*.json")):
            table = _table(path, group, words)
            tables[group, table.name] = table
    return tables


def _table(path: Path, group: Group, words: dict[str, tuple[str, ...]]) -> Table:
    held = json.loads(path.read_text(encoding="utf-8"))
    _refuse_unknown(set(held), _TABLE_KEYS, path.name, "table")
    return Table(
        name=held["name"],
        group=group,
        title=held["title"],
        description=held["description"],
        fields=tuple(_field(item, path.name, words) for item in held["fields"]),
        primary_key=tuple(held.get("primaryKey", ())),
        unique_keys=tuple(tuple(key) for key in held.get("uniqueKeys", ())),
        foreign_keys=tuple(_foreign_key(item) for item in held.get("foreignKeys", ())),
        metric_columns=held.get("metricColumns", False),
        fact_columns=held.get("factColumns", False),
        optional=held.get("optional", False),
    )


def _foreign_key(item: dict[str, Any]) -> ForeignKey:
    reference = item["reference"]
    return ForeignKey(item["fields"][0], reference["resource"], reference["fields"][0])


def _field(item: dict[str, Any], file: str, words: dict[str, tuple[str, ...]]) -> Field:
    constraints = item.get("constraints", {})
    _refuse_unknown(set(item), _FIELD_KEYS, file, f"field {item['name']}")
    _refuse_unknown(set(constraints), _CONSTRAINT_KEYS, file, f"constraints of {item['name']}")
    vocabulary = item.get("vocabulary")
    if vocabulary is not None and vocabulary not in words:
        raise ContractError(
            "unknown vocabulary",
            file=file,
            column=item["name"],
            value=vocabulary,
            next_step=near_names(vocabulary, words),
        )
    return Field(
        name=item["name"],
        title=item["title"],
        description=item["description"],
        type=item["type"],
        unit=item.get("unit"),
        unit_from=item.get("unitFrom"),
        vocabulary=vocabulary,
        enum=words[vocabulary] if vocabulary else (),
        example=item.get("example"),
        required=constraints.get("required", False),
        minimum=constraints.get("minimum"),
        maximum=constraints.get("maximum"),
        pattern=constraints.get("pattern"),
        max_length=constraints.get("maxLength"),
    )


def _metric(name: str, item: dict[str, Any]) -> Metric:
    tail = item.get("tail_pct")
    return Metric(
        metric=name,
        title=item["title"],
        unit=item["unit"],
        direction=item["direction"],
        comparable=item["comparable"],
        weighting=item["weighting"],
        tail_rule=item["tail_rule"],
        tail_pct=None if tail is None else float(tail),
        fewest_frames=int(item["fewest_frames"]),
        least=float(item["least"]),
        most=float(item["most"]),
    )


def _unit(item: dict[str, Any]) -> Unit:
    return Unit(item["unit"], item["means"], tuple(item["accepts"]))


def _vocabularies(held: dict[str, Any]) -> dict[str, Vocabulary]:
    return {
        name: Vocabulary(name, item["title"], item["terms"], item.get("units", {}))
        for name, item in held.items()
    }


def _rules(folder: Path) -> dict[str, Rule]:
    return {code: _rule(code, item, folder) for code, item in _toml(folder / "rules.toml").items()}


def _rule(code: str, item: dict[str, Any], folder: Path) -> Rule:
    _refuse_unknown(set(item), _RULE_KEYS, "rules.toml", code)
    sql = folder / "rules" / f"{code}.sql"
    text = sql.read_text(encoding="utf-8") if sql.is_file() else None
    found_by = "check" if "check" in item else "sql" if text is not None else item.get("found_by")
    if found_by is None:
        raise ContractError(
            "the rule has no check, no query and no part that finds it",
            file="rules.toml",
            column=code,
            next_step=f"add a check, a file rules/{code}.sql, or found_by",
        )
    return Rule(
        code=code,
        severity=item["severity"],
        title=item["title"],
        why=item["why"],
        next_step=item["next_step"],
        table=item["table"],
        column=item.get("column"),
        check=item.get("check"),
        sql=text,
        needs=tuple(item.get("needs", ())),
        found_by=found_by,
    )
