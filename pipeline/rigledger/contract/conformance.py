"""Holds a descriptor against the Data Package 2.0 standard: its profile, and its text beyond it."""

from __future__ import annotations

import json
import re
from collections import Counter
from functools import lru_cache
from importlib.util import find_spec
from typing import Any

from rigledger.contract.load import schema_folder
from rigledger.errors import MissingExtraError

_NAME = re.compile(r"[a-z0-9._-]+")
_SEMANTIC_VERSION = re.compile(r"(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)", re.ASCII)


def profile_errors(descriptor: dict[str, Any]) -> list[str]:
    """Hold a descriptor against the official 2.0 JSON profile, formats included.

    Returns:
        One text an error, ``place: what is wrong``, in the order of their places; empty where it
        conforms.

    Raises:
        MissingExtraError: The packages that this needs are not installed.
    """
    package, _ = _validators()
    errors = package.iter_errors(descriptor)
    found = [(_place(error.absolute_path), str(error.message)) for error in errors]
    resources = descriptor.get("resources")
    for number, held in enumerate(resources if isinstance(resources, list) else ()):
        if isinstance(held, dict) and "schema" in held:
            text = json.dumps(held["schema"], sort_keys=True)
            place = ("resources", number, "schema")
            found += [(_place((*place, *path)), says) for path, says in _schema_errors(text)]
    return [f"{place}: {says[:300]}" for place, says in sorted(found, key=lambda one: one[0])]


@lru_cache(maxsize=1024)
def _schema_errors(text: str) -> tuple[tuple[tuple[str | int, ...], str], ...]:
    """Hold a Table Schema against its part of the profile: most are the same in every release."""
    _, schema = _validators()
    errors = schema.iter_errors(json.loads(text))
    return tuple((tuple(error.absolute_path), str(error.message)) for error in errors)


def _place(path: Any) -> str:  # noqa: ANN401 - a deque of keys and positions
    return "/".join(str(part) for part in path) or "(package)"


@lru_cache(maxsize=1)
def _validators() -> tuple[Any, Any]:
    """Make two validators: of a package but for its Table Schemas, and of a Table Schema."""
    # Without the second package dates and times would silently not be checked.
    if not (find_spec("jsonschema") and find_spec("rfc3339_validator")):
        raise MissingExtraError(
            "checking a descriptor needs jsonschema and rfc3339-validator",
            next_step="pip install 'rigledger[curator]'",
        )
    import jsonschema

    profile = schema_folder() / "profiles" / "2.0" / "datapackage.json"
    held = json.loads(profile.read_text(encoding="utf-8"))
    of_a_resource = held["properties"]["resources"]["items"]["properties"]
    schema, of_a_resource["schema"] = of_a_resource["schema"], {}
    made = jsonschema.Draft7Validator
    package, table = (made(one, format_checker=made.FORMAT_CHECKER) for one in (held, schema))
    return package, table


def prose_errors(descriptor: dict[str, Any]) -> list[str]:
    """Hold a descriptor against what the standard says in its text and the profile can't check.

    Names of the package and unique names of its resources; a version of three numbers; foreign keys
    that lead to a resource and a column that exist; keys that name columns of their own table.
    """
    return [
        *_package_errors(descriptor),
        *(
            f"resources/{held['name']}: {problem}"
            for held in descriptor["resources"]
            if "schema" in held
            for problem in _key_errors(held, descriptor["resources"])
        ),
    ]


def _package_errors(descriptor: dict[str, Any]) -> list[str]:
    errors = []
    if not _NAME.fullmatch(descriptor.get("name", "")):
        errors.append("name: lower-case letters, digits, '.', '_' and '-' only")
    if not _SEMANTIC_VERSION.fullmatch(descriptor.get("version", "")):
        errors.append("version: three numbers such as 1.0.0")
    counts = Counter(held["name"] for held in descriptor["resources"])
    errors += [f"resources: the name {name} is used twice" for name, n in counts.items() if n > 1]
    return errors


def _key_errors(held: dict[str, Any], resources: list[dict[str, Any]]) -> list[str]:
    columns = {other["name"]: _columns(other) for other in resources}
    own = columns[held["name"]]
    schema = held["schema"]
    keys = [schema.get("primaryKey", []), *schema.get("uniqueKeys", [])]
    errors = [f"no column {name}" for key in keys for name in key if name not in own]
    for key in schema.get("foreignKeys", []):
        target = key["reference"].get("resource") or held["name"]
        if not set(key["fields"]) <= own:
            errors.append(f"no column {key['fields']}")
        if not set(key["reference"]["fields"]) <= columns.get(target, set()):
            errors.append(f"the key {key['fields']} leads to {target}, which lacks the column")
    return errors


def _columns(held: dict[str, Any]) -> set[str]:
    return {field["name"] for field in held.get("schema", {}).get("fields", [])}
