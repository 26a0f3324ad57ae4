"""The version of a release, computed from what changed.

Recipe: Data Package, *Data Package Version*
(<https://datapackage.org/recipes/data-package-version/>). Major: names, columns, types, tighter
constraints, keys, rows taken away. Minor: rows or tables added, looser constraints, references that
lead elsewhere. Patch: values corrected, descriptions edited.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from rigledger.release.errors import ReleaseError

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

Level = Literal["patch", "minor", "major"]
FIRST_VERSION = "1.0.0"
_ORDER: tuple[Level, ...] = ("patch", "minor", "major")
_VERSION = re.compile(r"(0|[1-9]\d*)\.(0|[1-9]\d*)\.(0|[1-9]\d*)", re.ASCII)
_DESCRIPTIVE = ("title", "description", "example", "unit", "unitFrom", "vocabulary")


@dataclass(frozen=True, slots=True, order=True)
class Reason:
    """One thing that changed, and the step that it asks for at least."""

    level: Level
    sentence: str


def step_of(reasons: Iterable[Reason]) -> Level:
    """Give the largest step that some reasons ask for; ``patch`` where there are none."""
    return max((reason.level for reason in reasons), key=_ORDER.index, default="patch")


def parse_version(text: str) -> tuple[int, int, int]:
    """Read a version of three numbers.

    Raises:
        ReleaseError: It is none.
    """
    match = _VERSION.fullmatch(text)
    if match is None:
        raise ReleaseError(
            "not a version", column="version", value=text,
            next_step="write three numbers without leading zeros, such as 1.2.0",
        )  # fmt: skip
    major, minor, patch = (int(part) for part in match.groups())
    return major, minor, patch


def next_version(previous: str, level: Level) -> str:
    """Give the version that follows another by a step."""
    major, minor, patch = parse_version(previous)
    following = {
        "major": (major + 1, 0, 0),
        "minor": (major, minor + 1, 0),
        "patch": (major, minor, patch + 1),
    }[level]
    return ".".join(str(part) for part in following)


def agreed_version(requested: str | None, previous: str | None, reasons: Iterable[Reason]) -> str:
    """Give the version of a release: the computed one, or a higher one that was asked for.

    Args:
        requested: Version that was asked for; None for the computed one.
        previous: Version of the release before; None for a first release.
        reasons: What changed since.

    Raises:
        ReleaseError: The requested version understates the change, or is none.
    """
    why = tuple(reasons)
    least = FIRST_VERSION if previous is None else next_version(previous, step_of(why))
    if requested is None:
        return least
    if parse_version(requested) < parse_version(least):
        says = "; ".join(reason.sentence for reason in why if reason.level == step_of(why))
        raise ReleaseError(
            f"the version understates the change: at least {least} ({says or 'a first release'})",
            column="version", value=requested,
            next_step=f"ask for {least}, or leave the version out",
        )  # fmt: skip
    return requested


def schema_reasons(
    before: Mapping[str, Mapping[str, Any]], now: Mapping[str, Mapping[str, Any]]
) -> list[Reason]:
    """Compare the Table Schemas of two releases.

    Args:
        before: Schemas of the earlier release, by table.
        now: Schemas of this one.

    Returns:
        What changed in tables, columns, types, constraints and keys.
    """
    gone = [Reason("major", f"table {name} is gone") for name in before if name not in now]
    new = [Reason("minor", f"table {name} is new") for name in now if name not in before]
    both = [name for name in now if name in before]
    changed = [found for name in both for found in _table_reasons(name, before[name], now[name])]
    return sorted({*gone, *new, *changed}, key=lambda found: (-_ORDER.index(found.level), found))


def _table_reasons(
    table: str, before: Mapping[str, Any], now: Mapping[str, Any]
) -> Iterable[Reason]:
    old = {field["name"]: field for field in before["fields"]}
    new = {field["name"]: field for field in now["fields"]}
    if list(old) != list(new):
        yield Reason("major", f"the columns of {table} changed{_column_names(old, new)}")
    for key in ("primaryKey", "uniqueKeys", "foreignKeys"):
        if before.get(key) != now.get(key):
            yield Reason("major", f"the {key} of {table} changed")
    for name, held in new.items():
        if name in old:
            yield from _field_reasons(f"{table}.{name}", old[name], held)


def _column_names(old: Mapping[str, Any], new: Mapping[str, Any]) -> str:
    added = [name for name in new if name not in old]
    gone = [name for name in old if name not in new]
    parts = [
        f"{word} {', '.join(names)}" for word, names in (("new:", added), ("gone:", gone)) if names
    ]
    return f" ({'; '.join(parts)})" if parts else " their order"


def _field_reasons(place: str, old: Mapping[str, Any], new: Mapping[str, Any]) -> Iterable[Reason]:
    if old["type"] != new["type"]:
        yield Reason("major", f"{place} is now of type {new['type']}")
    limits_before, limits_now = old.get("constraints", {}), new.get("constraints", {})
    for name in sorted({*limits_before, *limits_now}):
        was, becomes = limits_before.get(name), limits_now.get(name)
        if was != becomes:
            level: Level = "major" if is_tighter(name, was, becomes) else "minor"
            yield Reason(level, f"{place} allows {'less' if level == 'major' else 'more'}: {name}")
    if any(old.get(key) != new.get(key) for key in _DESCRIPTIVE):
        yield Reason("patch", f"{place} is described in other words")


def is_tighter(constraint: str, was: Any, becomes: Any) -> bool:  # noqa: ANN401 - any constraint
    """Say whether a constraint of a column allows less than before; another pattern always may."""
    if becomes is None:
        return False
    if was is None:
        return True
    if constraint == "minimum":
        return bool(becomes > was)
    if constraint in {"maximum", "maxLength"}:
        return bool(becomes < was)
    if constraint == "enum":
        return not set(was) <= set(becomes)
    return constraint != "required" or bool(becomes)
