"""Spelling, bounds and values of single cells, asked of real DuckDB."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import Field, Table
from rigledger.contract.compile_sql import compile_checks, typed_select

if TYPE_CHECKING:
    from .conftest import TextTables


def _table(kind: str, **constraints: object) -> Table:
    field = Field("cell", "Cell", "A cell.", kind, **constraints)  # type: ignore[arg-type]
    return Table("cells", "handed_in", "Cells", "Cells.", (field,))


def _rules(texts: TextTables, table: Table, cell: str | None) -> list[object]:
    held = texts.put(table, [{"cell": cell}])
    return [rule for rule, *_ in texts.ask(compile_checks(table, relation=held))]


def _value(texts: TextTables, table: Table, cell: str | None) -> object:
    held = texts.put(table, [{"cell": cell}])
    return texts.ask(typed_select(table, held, keep_row=False))[0][0]


@pytest.mark.parametrize("cell", ["0", "7", "-12", "-0", "9223372036854775807"])
def test_whole_numbers_are_taken(texts: TextTables, cell: str) -> None:
    table = _table("integer")
    assert ([], int(cell)) == (_rules(texts, table, cell), _value(texts, table, cell))


MISSPELT_INTEGERS = [
    "+5",
    "007",
    "1_000",
    "1 000",
    " 1",
    "1 ",
    "5.",
    "59.6",
    "1.0",
    "1e3",
    "0x10",
    "٣",
    "--1",
    "-",
    "x",
    "1,5",
    "１２",
    "1\n",
    "true",
    "−5",
]


@pytest.mark.parametrize("cell", MISSPELT_INTEGERS)
def test_whole_numbers_have_one_spelling(texts: TextTables, cell: str) -> None:
    table = _table("integer", minimum=0, maximum=10_000)
    assert (["type_spelling"], None) == (_rules(texts, table, cell), _value(texts, table, cell))


@pytest.mark.parametrize(
    "cell", ["0", "59.6", "-3.10", "1e5", "1.5E-3", "2e+2", "0.000", "551.10", "-0.0"]
)
def test_numbers_are_taken(texts: TextTables, cell: str) -> None:
    table = _table("number", minimum=-1e6, maximum=1e6)
    assert ([], float(cell)) == (_rules(texts, table, cell), _value(texts, table, cell))


MISSPELT_NUMBERS = [
    "NaN",
    "nan",
    "-nan",
    "inf",
    "-inf",
    "Infinity",
    "+1.5",
    "5.",
    ".5",
    "-.5",
    "1_000",
    "1_0.5",
    "01.5",
    "1,5",
    "1.234,5",
    " 1.5",
    "1.5 ",
    "1.5\t",
    "٣.٥",
    "1.5e",
    "e5",
    "0x1p3",
    "1.5 fps",
    "1.2.3",
    "--1",
    "",
]


@pytest.mark.parametrize("cell", [text for text in MISSPELT_NUMBERS if text])
def test_numbers_have_one_spelling(texts: TextTables, cell: str) -> None:
    table = _table("number", minimum=-1e6, maximum=1e6)
    assert (["type_spelling"], None) == (_rules(texts, table, cell), _value(texts, table, cell))


@pytest.mark.parametrize("bounds", [{}, {"minimum": 0}, {"maximum": 1e308}, {"minimum": -1e308}])
@pytest.mark.parametrize("cell", ["1e400", "1e309"])
def test_a_number_too_large_for_a_double_never_passes(
    texts: TextTables, cell: str, bounds: dict[str, float]
) -> None:
    table = _table("number", **bounds)
    assert (["out_of_bounds"], None) == (_rules(texts, table, cell), _value(texts, table, cell))


def test_a_whole_number_too_long_for_64_bits_never_passes(texts: TextTables) -> None:
    table = _table("integer")
    cell = "9223372036854775808"
    assert (["out_of_bounds"], None) == (_rules(texts, table, cell), _value(texts, table, cell))


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("0.1", []),
        ("10", []),
        ("0.09999", ["out_of_bounds"]),
        ("10.0001", ["out_of_bounds"]),
        ("-5", ["out_of_bounds"]),
    ],
)
def test_both_bounds_belong_to_the_range(texts: TextTables, cell: str, expected: list[str]) -> None:
    assert expected == _rules(texts, _table("number", minimum=0.1, maximum=10), cell)


@pytest.mark.parametrize("cell", ["2026-10-05", "2024-02-29", "0001-01-01", "9999-12-31"])
def test_dates_of_the_calendar_are_taken(texts: TextTables, cell: str) -> None:
    table = _table("date")
    assert ([], date.fromisoformat(cell)) == (
        _rules(texts, table, cell),
        _value(texts, table, cell),
    )


MISSPELT_DATES = [
    "2026-02-29",
    "2026-04-31",
    "2026-13-01",
    "0000-01-01",
    "2026-1-5",
    "05.10.2026",
    "10/05/2026",
    "2026-10-05 ",
    "20261005",
    "2026-10-05T00:00:00Z",
    "10000-01-01",
    "infinity",
    "epoch",
    "٢٠٢٦-10-05",
]


@pytest.mark.parametrize("cell", MISSPELT_DATES)
def test_dates_have_one_spelling_and_are_in_the_calendar(texts: TextTables, cell: str) -> None:
    table = _table("date")
    assert (["type_spelling"], None) == (_rules(texts, table, cell), _value(texts, table, cell))


@pytest.mark.parametrize(
    ("cell", "expected"),
    [("1999-12-31", ["out_of_bounds"]), ("2000-01-01", []), ("2026-01-01", [])],
)
def test_dates_have_bounds(texts: TextTables, cell: str, expected: list[str]) -> None:
    table = _table("date", minimum="2000-01-01", maximum="2100-01-01")
    assert expected == _rules(texts, table, cell)


@pytest.mark.parametrize(
    ("cell", "utc"),
    [
        # Expected values: RFC 3339, section 5.8, "Examples", and plain arithmetic.
        ("1996-12-19T16:39:57-08:00", datetime(1996, 12, 20, 0, 39, 57)),
        ("1985-04-12T23:20:50.52Z", datetime(1985, 4, 12, 23, 20, 50, 520_000)),
        ("1937-01-01T12:00:27.87+00:20", datetime(1937, 1, 1, 11, 40, 27, 870_000)),
        ("2026-10-05T09:12:00Z", datetime(2026, 10, 5, 9, 12)),
        ("2026-10-05T09:12:00+05:45", datetime(2026, 10, 5, 3, 27)),
        ("2026-10-05T23:30:00-00:45", datetime(2026, 10, 6, 0, 15)),
        ("2026-10-05T09:12:00", datetime(2026, 10, 5, 9, 12)),
    ],
)
def test_times_are_kept_in_utc(texts: TextTables, cell: str, utc: datetime) -> None:
    table = _table("datetime")
    assert ([], utc) == (_rules(texts, table, cell), _value(texts, table, cell))


MISSPELT_TIMES = [
    "2026-10-05 09:12:00Z",
    "2026-10-05T09:12Z",
    "2026-10-05T24:00:00Z",
    "2026-10-05T09:60:00Z",
    "2026-02-30T09:12:00Z",
    "2026-10-05T09:12:00+0200",
    "2026-10-05T09:12:00+2",
    "2026-10-05t09:12:00z",
    "2026-10-05T09:12:00.Z",
    "2026-10-05",
    "09:12:00",
    "1759655520",
    "2026-10-05T09:12:00+24:00",
]


@pytest.mark.parametrize("cell", MISSPELT_TIMES)
def test_times_have_one_spelling(texts: TextTables, cell: str) -> None:
    table = _table("datetime")
    assert (["type_spelling"], None) == (_rules(texts, table, cell), _value(texts, table, cell))


def test_a_published_time_must_have_an_offset(texts: TextTables) -> None:
    field = Field("cell", "Cell", "A cell.", "datetime")
    table = Table("cells", "source", "Cells", "Cells.", (field,))
    assert ["type_spelling"] == _rules(texts, table, "2026-10-05T09:12:00")


@pytest.mark.parametrize(
    ("cell", "expected"), [("true", ([], True)), ("false", ([], False)), (None, ([], None))]
)
def test_true_and_false_are_taken(
    texts: TextTables, cell: str, expected: tuple[list[str], bool]
) -> None:
    table = _table("boolean")
    assert expected == (_rules(texts, table, cell), _value(texts, table, cell))


@pytest.mark.parametrize("cell", ["True", "TRUE", "1", "0", "yes", "no", "x", "t", " true"])
def test_true_and_false_have_one_spelling(texts: TextTables, cell: str) -> None:
    table = _table("boolean")
    assert (["type_spelling"], None) == (_rules(texts, table, cell), _value(texts, table, cell))


@pytest.mark.parametrize("kind", ["string", "integer", "number", "boolean", "date", "datetime"])
@pytest.mark.parametrize("cell", [None, ""])
def test_a_blank_cell_is_null_and_wrong_only_where_required(
    texts: TextTables, kind: str, cell: str | None
) -> None:
    optional, required = _table(kind), _table(kind, required=True)
    assert ([], None, ["required_missing"]) == (
        _rules(texts, optional, cell),
        _value(texts, optional, cell),
        _rules(texts, required, cell),
    )


@pytest.mark.parametrize("cell", [" ", "\t", "\u00a0", "\u3000", "\u200b", " \u2003 "])
def test_a_required_text_of_nothing_but_spaces_is_blank(texts: TextTables, cell: str) -> None:
    assert ["required_missing"] == _rules(texts, _table("string", required=True), cell)


@pytest.mark.parametrize("cell", ["é", "日本", "x", "'quoted'", " x", "-", "0", '"; drop table x'])
def test_a_required_text_with_anything_to_see_is_taken_as_it_is(
    texts: TextTables, cell: str
) -> None:
    table = _table("string", required=True)
    assert ([], cell) == (_rules(texts, table, cell), _value(texts, table, cell))


@pytest.mark.parametrize(
    ("cell", "expected"),
    [
        ("p1-fast", []),
        ("p1-fast\n", ["pattern_mismatch"]),
        (" p1", ["pattern_mismatch"]),
        ("P1", ["pattern_mismatch"]),
        ("p1--x", ["pattern_mismatch"]),
    ],
)
def test_a_pattern_matches_the_whole_cell(
    texts: TextTables, cell: str, expected: list[str]
) -> None:
    assert expected == _rules(texts, _table("string", pattern="[a-z0-9]+(-[a-z0-9]+)*"), cell)


def test_an_alternative_in_a_pattern_is_still_a_whole_match(texts: TextTables) -> None:
    assert ["pattern_mismatch"] == _rules(texts, _table("string", pattern="ab|cd"), "abx")


@pytest.mark.parametrize(("cell", "expected"), [("ééé", []), ("éééé", ["too_long"])])
def test_length_is_counted_in_characters(texts: TextTables, cell: str, expected: list[str]) -> None:
    assert expected == _rules(texts, _table("string", max_length=3), cell)


def test_each_broken_constraint_of_a_text_is_reported(texts: TextTables) -> None:
    table = _table("string", enum=("a", "b's"), pattern="[a-z']+", max_length=3)
    assert ([], ["not_in_vocabulary", "pattern_mismatch", "too_long"]) == (
        _rules(texts, table, "b's"),
        _rules(texts, table, "ABCD"),
    )
