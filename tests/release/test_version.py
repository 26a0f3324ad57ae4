"""The version of a release follows from the change, by the Data Package version recipe.

Source of every expectation: <https://datapackage.org/recipes/data-package-version/>.
"""

from __future__ import annotations

from typing import Any

import pytest

from rigledger.release.errors import ReleaseError
from rigledger.release.version import (
    Level,
    Reason,
    agreed_version,
    is_tighter,
    next_version,
    schema_reasons,
    step_of,
)


def schema(*fields: dict[str, Any], **keys: list[str]) -> dict[str, Any]:
    return {"fields": list(fields), "primaryKey": ["run"]} | keys


def field(name: str, kind: str = "string", **further: object) -> dict[str, Any]:
    return {"name": name, "type": kind} | further


RUNS = schema(field("run"), field("value", "number", constraints={"minimum": 0, "maximum": 10}))


def levels(before: dict[str, Any], now: dict[str, Any]) -> list[str]:
    return [reason.level for reason in schema_reasons({"runs": before}, {"runs": now})]


def test_nothing_changed_gives_no_reason() -> None:
    assert schema_reasons({"runs": RUNS}, {"runs": RUNS}) == []


@pytest.mark.parametrize(
    ("now", "expected"),
    [
        (schema(*RUNS["fields"], field("added")), "major"),
        (schema(RUNS["fields"][0]), "major"),
        (schema(*reversed(RUNS["fields"])), "major"),
        (
            schema(
                RUNS["fields"][0],
                field("value", "integer", constraints=RUNS["fields"][1]["constraints"]),
            ),
            "major",
        ),
        (schema(*RUNS["fields"], primaryKey=["run", "value"]), "major"),
        (
            schema(
                RUNS["fields"][0],
                field("value", "number", constraints={"minimum": 1, "maximum": 10}),
            ),
            "major",
        ),
        (
            schema(
                RUNS["fields"][0],
                field("value", "number", constraints={"minimum": 0, "maximum": 11}),
            ),
            "minor",
        ),
        (schema(RUNS["fields"][0], field("value", "number", constraints={"maximum": 10})), "minor"),
        (schema(field("run", title="Run"), RUNS["fields"][1]), "patch"),
    ],
)
def test_each_change_of_a_schema_asks_for_its_step(now: dict[str, Any], expected: str) -> None:
    assert levels(RUNS, now) == [expected]


def test_a_table_that_is_gone_is_major_and_a_new_one_minor() -> None:
    found = schema_reasons({"old": RUNS}, {"new": RUNS})
    assert found == [Reason("major", "table old is gone"), Reason("minor", "table new is new")]


@pytest.mark.parametrize(
    ("constraint", "was", "becomes", "tighter"),
    [
        ("enum", ["a"], ["a", "b"], False), ("enum", ["a", "b"], ["a"], True),
        ("maxLength", 10, 20, False), ("maxLength", 20, 10, True), ("maximum", 2, 1, True),
        ("required", None, True, True), ("required", True, None, False),
        ("pattern", "a", "b", True), ("pattern", "a", None, False), ("minimum", None, 0, True),
    ],
)  # fmt: skip
def test_tighter_constraints_are_told_from_looser_ones(
    constraint: str, was: object, becomes: object, tighter: bool
) -> None:
    assert is_tighter(constraint, was, becomes) is tighter


def test_the_largest_reason_decides() -> None:
    reasons = [Reason("patch", "a"), Reason("major", "b"), Reason("minor", "c")]
    assert step_of(reasons) == "major"
    assert step_of([]) == "patch"


@pytest.mark.parametrize(
    ("level", "expected"), [("major", "2.0.0"), ("minor", "1.5.0"), ("patch", "1.4.3")]
)
def test_the_next_version_sets_what_follows_to_zero(level: Level, expected: str) -> None:
    assert next_version("1.4.2", level) == expected


def test_a_first_release_is_1_0_0() -> None:
    assert agreed_version(None, None, []) == "1.0.0"


def test_a_higher_version_than_asked_for_is_allowed() -> None:
    assert agreed_version("2.0.0", "1.0.0", [Reason("minor", "rows new")]) == "2.0.0"
    assert agreed_version(None, "1.0.0", [Reason("minor", "rows new")]) == "1.1.0"


def test_a_version_that_understates_the_change_is_refused_with_the_reason() -> None:
    with pytest.raises(ReleaseError, match=r"at least 2\.0\.0 \(3 rows of runs gone\)") as caught:
        agreed_version("1.1.0", "1.0.0", [Reason("major", "3 rows of runs gone")])
    assert caught.value.value == "1.1.0"


@pytest.mark.parametrize("text", ["1.0", "v1.0.0", "1.0.0-rc1", "01.0.0", "1.0.٣"])
def test_what_is_no_version_is_refused(text: str) -> None:
    with pytest.raises(ReleaseError, match="not a version"):
        agreed_version(text, None, [])
