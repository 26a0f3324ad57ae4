"""Frictionless as the oracle: what it checks, the compiled SQL finds too: row, column and rule.

Where ours is stricter on purpose, `STRICTER` names it; each name is shown to be a real difference.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.contract import Field, ForeignKey, Table
from rigledger.contract.compile_sql import compile_checks, compile_doubts, compile_steps
from rigledger.contract.descriptor import PROFILE, table_schema

if TYPE_CHECKING:
    from collections.abc import Mapping

    from .conftest import TextTables

Place = tuple[int, str, str]
Row = dict[str, str | None]

_CONSTRAINTS = {
    "required": "required_missing",
    "minimum": "out_of_bounds",
    "maximum": "out_of_bounds",
    "pattern": "pattern_mismatch",
    "enum": "not_in_vocabulary",
    "maxLength": "too_long",
}


def _field(name: str, kind: str, **constraints: Any) -> Field:  # noqa: ANN401
    return Field(name, name, "A column.", kind, **constraints)  # type: ignore[arg-type]


TABLE = Table(
    "held",
    "handed_in",
    "Held",
    "Held.",
    (
        _field("key_a", "string", required=True, pattern="[a-c]+"),
        _field("key_b", "string", required=True, max_length=2),
        _field("word", "string", enum=("off", "on")),
        _field("long", "string", max_length=3),
        _field("must", "string", required=True),
        _field("whole", "integer", minimum=-5, maximum=1000, required=True),
        _field("number", "number", minimum=-5, maximum=1000),
        _field("day", "date", minimum="2000-01-01", maximum="2100-01-01"),
        _field("moment", "datetime"),
        _field("flag", "boolean"),
        _field("rig", "string"),
    ),
    primary_key=("key_a", "key_b"),
    foreign_keys=(ForeignKey("rig", "rigs", "rig"),),
)
RIGS = Table("rigs", "handed_in", "Rigs", "Rigs.", (_field("rig", "string"),))
KNOWN: list[Row] = [{"rig": "p1"}, {"rig": "p2"}]


def _oracle(table: Table, rows: list[Row]) -> set[Place]:
    """Say what frictionless finds wrong with texts, as row (from 2), column and our rule."""
    from frictionless import Package

    resources = [_resource(table, rows), _resource(RIGS, KNOWN)]
    package = {"$schema": PROFILE, "name": "package", "resources": resources}
    report = Package.from_descriptor(package).validate(limit_errors=1_000_000)
    return {place for error in report.tasks[0].errors for place in _places(error, table)}


def _resource(table: Table, rows: list[Row]) -> dict[str, object]:
    cells = [[row.get(name) or "" for name in table.field_names] for row in rows]
    data = [list(table.field_names), *cells]
    return {"name": table.name, "type": "table", "data": data, "schema": table_schema(table)}


def _places(error: Any, table: Table) -> list[Place]:  # noqa: ANN401
    kind, row, note = error.type, error.row_number, error.note
    if kind == "type-error":
        return [(row, error.field_name, "type_spelling")]
    if kind == "constraint-error":
        return [(row, error.field_name, _CONSTRAINTS[note.split('"')[1]])]
    if kind == "primary-key":
        # A key of nothing but blanks is reported cell by cell, as required_missing.
        same = note.startswith("the same as")
        return [(row, ", ".join(table.primary_key), "duplicate_key")] if same else []
    if kind == "foreign-key":
        return [(row, note.split('"')[1], "unknown_reference")]
    raise AssertionError(f"an error nobody has thought of: {kind}: {note}")


def _ours(texts: TextTables, table: Table, rows: list[Row]) -> set[Place]:
    held = texts.put(table, rows)
    references = {"rigs": texts.put(RIGS, KNOWN, "k")}
    found = texts.ask(compile_checks(table, relation=held, references=references))
    assert set(found) == _part_by_part(texts, table, held, references)
    return {(row, column, rule) for rule, row, column, _ in found}  # type: ignore[misc]


def _part_by_part(
    texts: TextTables, table: Table, held: str, references: dict[str, str]
) -> set[tuple[object, ...]]:
    """Check as intake does: only columns with a wrong value, only parts that a glance leaves."""
    doubts = compile_doubts(table, relation=held, columns=table.field_names)
    wrong = texts.con.execute(doubts).fetchone() or ()
    doubtful = [name for name, is_wrong in zip(table.field_names, wrong, strict=True) if is_wrong]
    found: set[tuple[object, ...]] = set()
    for step in compile_steps(table, relation=held, references=references, doubtful=doubtful):
        if step.glance and texts.con.execute(f"select {step.glance} from {held}").fetchone() == (
            False,
        ):
            continue
        found.update(texts.ask(step.violations(f"({step.suspects})")))
    return found


@dataclass(frozen=True)
class Stricter:
    """A spelling that frictionless takes and we don't, for the types it is about."""

    name: str
    kinds: str
    pattern: str
    example: str

    def covers(self, field: Field, cell: str) -> bool:
        return field.type in self.kinds.split() and bool(re.search(self.pattern, cell))


STRICTER = [
    Stricter("not a number", "number", r"(?i)nan", "NaN"),
    Stricter("infinity", "number", r"(?i)inf", "-inf"),
    Stricter("too large for a double", "number", r"(?i)e\+?\d{3}", "1e400"),
    Stricter("too large for 64 bits", "integer", r"\d{19}", "9223372036854775808"),
    Stricter("underscores between digits", "integer number", "_", "1_000"),
    Stricter("a plus sign in front", "integer number", r"^\s*\+", "+5"),
    Stricter("digits not ASCII", "integer number date", r"(?=[^\x00-\x7f])\d", "٣"),
    Stricter("spaces around", "integer number", r"^\s|\s$", " 1"),
    Stricter("a point with no digit behind it", "number", r"\.(?!\d)", "5."),
    Stricter("a point with no digit before it", "number", r"(?<!\d)\.", ".5"),
    Stricter("leading zeros", "integer number", r"^\s*[+-]?0\d", "007"),
    Stricter("a day without its zeros", "date", r"-\d(?!\d)", "2026-1-5"),
    Stricter("another sign for the T", "datetime", r"^[-\d]{10}[^T]", "2026-10-05 09:12:00"),
    Stricter("small letters in a time", "datetime", "[tz]", "2026-10-05t09:12:00z"),
    Stricter("the hour 24", "datetime", r"T24:00:00", "2026-10-05T24:00:00Z"),
    Stricter("a comma in a time", "datetime", ",", "2026-10-05T09:12:00,5Z"),
    Stricter("week dates", "datetime", "W", "2026-W40-1T09:00:00"),
    Stricter("an offset without colon", "datetime", r"[+-]\d{4}$", "2026-10-05T09:12:00+0200"),
    Stricter("over six decimals", "datetime", r"\.\d{7}", "2026-10-05T09:12:00.1234567Z"),
]


def _explained(place: Place, row: Mapping[str, str | None]) -> bool:
    """Say whether a difference at this place is one of the list."""
    _, column, rule = place
    if column not in TABLE.field_names:
        return False
    cell, field = row.get(column) or "", TABLE.field(column)
    if rule == "required_missing" and field.type == "string":
        return cell.isspace()
    if rule == "pattern_mismatch":
        return cell.endswith("\n")
    return any(item.covers(field, cell) for item in STRICTER)


def _unexplained(texts: TextTables, rows: list[Row]) -> set[Place]:
    differing = _ours(texts, TABLE, rows) ^ _oracle(TABLE, rows)
    return {place for place in differing if not _explained(place, rows[place[0] - 2])}


GOOD: Row = {
    "key_a": "a",
    "key_b": "1",
    "word": "on",
    "long": "abc",
    "must": "x",
    "whole": "7",
    "number": "59.6",
    "day": "2026-10-05",
    "moment": "2026-10-05T09:12:00Z",
    "flag": "true",
    "rig": "p1",
}
CORPUS: dict[str, list[str]] = {
    "key_a": ["", "A", "ab", "d", "a\n", "abcabc", " a"],
    "key_b": ["", "123", "éé", "ééé"],
    "word": ["", "off", "On", "on ", "maybe"],
    "long": ["", "abcd", "ééé", "日本語", "日本語x", "'", '"', "a,b", "\n\n\n"],
    "must": ["", "0", "-", "é"],
    "whole": [
        "",
        "-6",
        "-5",
        "1000",
        "1001",
        "-0",
        "1.0",
        "1e2",
        "0x10",
        "x",
        "-",
        "--1",
        "1,5",
        "٣",
        "1_0",
        "+1",
    ],
    "number": [
        "",
        "-5",
        "-5.0001",
        "1000.0",
        "1000.01",
        "1e3",
        "1E+3",
        "-1e-3",
        "1,5",
        "e5",
        "1e",
        "1.2.3",
        "0x1",
        "0.10",
    ],
    "day": [
        "",
        "2026-02-29",
        "2024-02-29",
        "1999-12-31",
        "2100-01-01",
        "2100-01-02",
        "05.10.2026",
        "20261005",
        "0000-01-01",
    ],
    "moment": [
        "",
        "2026-10-05T09:12:00",
        "2026-10-05T09:12:00+02:00",
        "2026-10-05T09:12:00.5Z",
        "2026-10-05",
        "x",
        "2026-10-05T25:12:00Z",
        "2026-02-30T09:12:00Z",
        "2026-10-05T09:12Z",
    ],
    "flag": ["", "false", "True", "1", "yes", "TRUE"],
    "rig": ["", "p2", "p3", "P1", "p1 "],
}


def test_a_fixed_corpus_of_cells_is_judged_alike(texts: TextTables) -> None:
    rows = [
        GOOD | {"key_b": str(number)} | {column: cell}
        for column, cells in CORPUS.items()
        for number, cell in enumerate(cells)
    ]
    assert set() == _unexplained(texts, rows)
    # The corpus is no idle one: each rule that frictionless knows is broken in it somewhere.
    assert {"duplicate_key", "unknown_reference", "type_spelling", *_CONSTRAINTS.values()} == {
        rule for _, _, rule in _oracle(TABLE, rows)
    }


_digits = st.text("0123456789+-._eE ,٣", max_size=6)
_days = st.builds(
    "{:04}-{:02}-{:02}".format, st.integers(1995, 2105), st.integers(0, 13), st.integers(0, 32)
)
_moments = st.builds(
    "{}{}{:02}:{:02}:{:02}{}".format,
    _days,
    st.sampled_from("T T_"),
    st.integers(0, 25),
    st.integers(0, 60),
    st.integers(0, 60),
    st.sampled_from(["Z", "", "+02:00", "-23:59", ".25Z", "z", "+2"]),
)
_plain = st.text(st.characters(codec="utf-8", exclude_categories=["Cc", "Cs"]), max_size=4)


def _cells(column: str, *further: st.SearchStrategy[str]) -> st.SearchStrategy[str | None]:
    return st.one_of(st.just(GOOD[column]), st.sampled_from(CORPUS[column]), *further)


_rows = st.fixed_dictionaries(
    {
        "key_a": _cells("key_a", st.text("abcd", max_size=3)),
        "key_b": _cells("key_b", st.text("12", min_size=1, max_size=3)),
        "word": _cells("word", _plain),
        "long": _cells("long", _plain),
        "must": st.one_of(st.just("x"), _plain.filter(lambda text: bool(text.strip()) or not text)),
        "whole": _cells("whole", _digits, st.integers(-10, 1010).map(str)),
        "number": _cells("number", _digits, st.floats(-10, 1010).map(str)),
        "day": _cells("day", _days),
        "moment": _cells("moment", _moments),
        "flag": _cells("flag", _plain),
        "rig": _cells("rig", _plain),
    }
)


@settings(
    settings.get_profile("costly"),
    suppress_health_check=[HealthCheck.function_scoped_fixture],
    derandomize=True,
)
@given(rows=st.lists(_rows, min_size=1, max_size=30))
def test_made_up_tables_are_judged_alike(texts: TextTables, rows: list[Row]) -> None:
    # A row of nothing but blanks has an error of its own there; here it is a missing cell each.
    filled = [row for row in rows if any(row.values())]
    assert set() == _unexplained(texts, filled or [GOOD])


@pytest.mark.parametrize("item", STRICTER, ids=lambda item: item.name)
def test_each_named_strictness_is_a_real_difference(texts: TextTables, item: Stricter) -> None:
    kind = item.kinds.split()[0]
    table = Table("held", "handed_in", "H", "H.", (_field("cell", kind),))
    rows: list[Row] = [{"cell": item.example}]
    rule = "out_of_bounds" if item.name.startswith("too large") else "type_spelling"
    assert (set(), {(2, "cell", rule)}) == (_oracle(table, rows), _ours(texts, table, rows))


def test_spaces_alone_fill_a_required_text_there_and_not_here(texts: TextTables) -> None:
    rows = [GOOD | {"must": " "}]
    assert (set(), {(2, "must", "required_missing")}) == (
        _oracle(TABLE, rows),
        _ours(texts, TABLE, rows),
    )


def test_a_line_end_behind_a_matching_text_is_taken_there_and_not_here(texts: TextTables) -> None:
    rows = [GOOD | {"key_a": "a\n"}]
    assert (set(), {(2, "key_a", "pattern_mismatch")}) == (
        _oracle(TABLE, rows),
        _ours(texts, TABLE, rows),
    )


def test_unique_keys_are_checked_here_and_not_there(texts: TextTables) -> None:
    table = Table("held", "handed_in", "H", "H.", (_field("a", "string"),), unique_keys=(("a",),))
    rows: list[Row] = [{"a": "1"}, {"a": "1"}]
    assert (set(), {(3, "a", "duplicate_key")}) == (
        _oracle(table, rows),
        _ours(texts, table, rows),
    )


def test_a_bound_is_compared_with_the_double_that_is_stored(texts: TextTables) -> None:
    # The one place where ours is the laxer: the text is beyond the bound, the number stored is not.
    rows = [GOOD | {"number": "1000.00000000000000000001"}]
    assert ({(2, "number", "out_of_bounds")}, set()) == (
        _oracle(TABLE, rows),
        _ours(texts, TABLE, rows),
    )
