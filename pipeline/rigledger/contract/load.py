"""Reads schema/ into the typed objects of the contract."""

from __future__ import annotations

import json
import tomllib
from functools import cache, lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, get_args

from rigledger.contract.model import (
    Contract,
    Field,
    FieldType,
    ForeignKey,
    Group,
    Metric,
    Rule,
    Table,
    Unit,
    Vocabulary,
)
from rigledger.errors import ContractError, near_names

if TYPE_CHECKING:
    from collections.abc import Iterable

# Keys that must stand there, and keys that may.
_FIELD_KEYS = (
    {"name", "title", "description", "type"},
    {"unit", "unitFrom", "vocabulary", "example", "constraints"},
)
_CONSTRAINT_KEYS: tuple[set[str], set[str]] = (
    set(),
    {"required", "minimum", "maximum", "pattern", "maxLength"},
)
_TABLE_KEYS = (
    {"name", "title", "description", "fields"},
    {"primaryKey", "uniqueKeys", "foreignKeys", "metricColumns", "factColumns", "optional"},
)
_METRIC_KEYS = (
    {
        "title", "unit", "direction", "comparable", "weighting", "tail_rule", "fewest_frames",
        "least", "most",
    },
    {"tail_pct"},
)  # fmt: skip
_RULE_KEYS = (
    {"severity", "title", "why", "next_step", "table"},
    {"column", "check", "needs", "spoils", "found_by", "only_if"},
)
_UNIT_KEYS: tuple[set[str], set[str]] = ({"unit", "means", "accepts"}, set())
_VOCABULARY_KEYS = ({"title", "terms"}, {"units"})


@cache
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
    return read_contract(folder)


def read_contract(folder: Path) -> Contract:
    """Read the contract from a folder that may change, such as that of an unpacked release.

    Args:
        folder: A schema folder.

    Returns:
        The contract, read anew each time.

    Raises:
        ContractError: A file is missing, a key is misspelt, or a name is not known.
    """
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


def _json(path: Path) -> Any:  # noqa: ANN401 - whatever the file holds
    try:
        return json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError) as error:
        raise ContractError(f"can't be read: {error}", file=path.name) from error


def _check_keys(held: Any, keys: tuple[set[str], set[str]], file: str, where: str) -> None:  # noqa: ANN401
    needed, allowed = keys
    if not isinstance(held, dict):
        raise ContractError(f"{where} must be a table of keys", file=file)
    for key in sorted(set(held) - needed - allowed):
        raise ContractError(
            f"unknown key in {where}",
            file=file,
            column=key,
            next_step=near_names(key, needed | allowed),
        )
    for key in sorted(needed - set(held)):
        raise ContractError(f"a key is missing in {where}", file=file, column=key)


def _tables(folder: Path, words: dict[str, tuple[str, ...]]) -> dict[tuple[Group, str], Table]:
    tables: dict[tuple[Group, str], Table] = {}
    for group in get_args(Group):
        for path in sorted((folder / group).glob("*.json")):
            table = _table(path, group, words)
            tables[group, table.name] = table
    return tables


def _table(path: Path, group: Group, words: dict[str, tuple[str, ...]]) -> Table:
    held = _json(path)
    _check_keys(held, _TABLE_KEYS, path.name, "the table")
    return Table(
        name=held["name"],
        group=group,
        title=held["title"],
        description=held["description"],
        fields=tuple(_field(item, path.name, words) for item in held["fields"]),
        primary_key=tuple(held.get("primaryKey", ())),
        unique_keys=tuple(tuple(key) for key in held.get("uniqueKeys", ())),
        foreign_keys=tuple(_foreign_key(item, path.name) for item in held.get("foreignKeys", ())),
        metric_columns=held.get("metricColumns", False),
        fact_columns=held.get("factColumns", False),
        optional=held.get("optional", False),
    )


def _foreign_key(item: dict[str, Any], file: str) -> ForeignKey:
    reference = item["reference"]
    if len(item["fields"]) != 1 or len(reference["fields"]) != 1:
        raise ContractError("a foreign key has one column", file=file, column=str(item["fields"]))
    return ForeignKey(item["fields"][0], reference["resource"], reference["fields"][0])


def _check_word(word: str, legal: Iterable[str], what: str, file: str, column: str) -> None:
    if word not in legal:
        raise ContractError(
            f"unknown {what}",
            file=file,
            column=column,
            value=word,
            next_step=near_names(word, legal),
        )


def _field(item: dict[str, Any], file: str, words: dict[str, tuple[str, ...]]) -> Field:
    constraints = item.get("constraints", {})
    _check_keys(item, _FIELD_KEYS, file, f"field {item.get('name')}")
    _check_keys(constraints, _CONSTRAINT_KEYS, file, f"the constraints of {item['name']}")
    _check_word(item["type"], get_args(FieldType), "type", file, item["name"])
    vocabulary = item.get("vocabulary")
    if vocabulary is not None:
        _check_word(vocabulary, words, "vocabulary", file, item["name"])
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
    _check_keys(item, _METRIC_KEYS, "metrics.toml", name)
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
    _check_keys(item, _UNIT_KEYS, "units.toml", str(item.get("unit")))
    return Unit(item["unit"], item["means"], tuple(item["accepts"]))


def _vocabularies(held: dict[str, Any]) -> dict[str, Vocabulary]:
    return {name: _vocabulary(name, item) for name, item in held.items()}


def _vocabulary(name: str, item: dict[str, Any]) -> Vocabulary:
    _check_keys(item, _VOCABULARY_KEYS, "vocabularies.toml", name)
    return Vocabulary(name, item["title"], item["terms"], item.get("units", {}))


def _rules(folder: Path) -> dict[str, Rule]:
    return {code: _rule(code, item, folder) for code, item in _toml(folder / "rules.toml").items()}


def _rule(code: str, item: dict[str, Any], folder: Path) -> Rule:
    _check_keys(item, _RULE_KEYS, "rules.toml", code)
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
        spoils=item.get("spoils", False),
        only_if=item.get("only_if", {}),
    )
