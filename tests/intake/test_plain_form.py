# ruff: noqa: ANN001, ANN201 - samples are known by their names
"""What plain cells look like is told from a sample, and by the contract alone what is plain."""

from __future__ import annotations

import pytest

from rigledger.contract import load_contract
from rigledger.intake.plain_form import MOST_WORDS, plain_column

RUNS = load_contract().wide("handed_in", "runs")


def form(name, sample, known=()):
    return plain_column(RUNS.field(name), sample, known)


def test_a_column_of_few_words_becomes_an_enumeration_of_them():
    column = form("level", ["x8", "x16"] * 10)
    assert (column.words, column.type) == (("x16", "x8"), 'intake."words of level"')
    assert column.value() == 'TRY_CAST("level" AS intake."words of level")'
    assert column.wrong() == '"value of level" IS NULL'


def test_blanks_are_plain_where_they_are_allowed():
    column = form("reason", ["hung", "crashed", ""] * 10)
    assert column.wrong() == '("value of reason" IS NULL AND "reason" <> \'\')'


def test_a_column_of_one_word_needs_no_place():
    column = form("role", ["measured"] * 10)
    assert column.constant
    assert (column.value(), column.typed()) == (None, "'measured'::VARCHAR")
    assert column.wrong() == '"role" IS NULL OR "role" <> \'measured\''


def test_a_column_of_blanks_needs_no_place():
    column = form("reason", [""] * 10)
    assert (column.words, column.typed()) == ((), "NULL::VARCHAR")
    assert column.wrong() == "\"reason\" <> ''"


@pytest.mark.parametrize(
    "sample", [[f"r{n}" for n in range(50)], [*["a"] * 40, "b"], ["a", "", "a", ""]]
)
def test_a_column_of_words_that_the_sample_can_not_know_is_text(sample):
    column = form("level_check", sample)
    assert (column.words, column.type) == (None, "VARCHAR")
    assert column.value() == "nullif(\"level_check\", '')"


def test_words_of_other_tables_are_known():
    assert form("rig", ["bench"] * 10, ["bench", "other"]).words == ("bench", "other")
    assert form("rig", ["bench"] * 10, [f"r{n}" for n in range(MOST_WORDS + 1)]).words is None


@pytest.mark.parametrize(
    ("name", "sample", "spelling"),
    [
        ("pass", ["1", "2", "x"], "[1-9][0-9]{0,2}"),
        ("average_fps", ["141.3", "98"], "(?:(?:0|[1-9][0-9]{0,4})(?:[.][0-9]{1,1})?)?"),
        ("capture_from_s", ["0", "0.5"], "(?:(?:0|[1-9][0-9]{0,4})(?:[.][0-9]{1,1})?)?"),
        ("average_fps", ["98", "99999.123"], "(?:(?:0|[1-9][0-9]{0,4}))?"),
        ("average_fps", ["", "1e2"], ""),
        ("level", ["x8"], None),
    ],
)
def test_plain_numbers_have_no_more_digits_than_bounds_and_sample(name, sample, spelling):
    assert form(name, sample).spelling() == spelling


def test_a_number_is_held_against_both_its_bounds():
    assert form("pass", ["1"]).beyond() == ["{} < 1::BIGINT", "{} > 999::BIGINT"]
    assert form("started_at", [""]).beyond() == []


def test_a_required_number_that_no_cell_holds_has_no_plain_form():
    assert form("pass", ["x", ""]) is None


def test_a_time_is_plain_with_its_offset_from_zero_alone():
    column = form("started_at", ["2026-10-05T09:20:10Z"])
    assert column.wrong().startswith("(\"started_at\" <> '' AND (NOT regexp_full_match(")
    assert column.value() == 'TRY_CAST("started_at" AS TIMESTAMP)'
