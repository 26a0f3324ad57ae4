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
    assert column.value() == (
        """CASE "level" WHEN 'x16' THEN 'x16'::intake."words of level\""""
        """ WHEN 'x8' THEN 'x8'::intake."words of level" END"""
    )
    assert column.wrong() == '"value of level" IS NULL'


def test_many_words_are_looked_up():
    column = form("workload", ["a", "b", "c", "d"] * 10)
    assert column.value() == 'TRY_CAST("workload" AS intake."words of workload")'


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
        ("average_fps", ["141.3", "98"], "(?:(?:0|[1-9][0-9]{0,4})(?:[.][0-9]{1,1})?)?"),
        ("capture_from_s", ["0", "0.5"], "(?:(?:0|[1-9][0-9]{0,4})(?:[.][0-9]{1,1})?)?"),
        ("average_fps", ["98", "9.25", "99999.1"], "(?:(?:0|[1-9][0-9]{0,4})(?:[.][0-9]{1,2})?)?"),
        ("average_fps", ["", "1e2"], ""),
        ("level", ["x8"], None),
    ],
)
def test_plain_numbers_have_no_more_digits_than_bounds_and_sample(name, sample, spelling):
    assert form(name, sample).spelling() == spelling


def test_numbers_of_one_number_of_decimals_are_held_against_what_is_read():
    column = form("average_fps", [*["141.3"] * 199, "98", "x"])
    assert (column.decimals, column.spelling()) == (1, None)
    assert column.exact() == 'TRY_CAST("average_fps" AS DECIMAL(6, 1))'
    assert column.value() == 'CAST("exactly average_fps" AS DOUBLE)'
    assert column.wrong() == (
        """("average_fps" <> '' AND ("exactly average_fps" IS NULL"""
        """ OR CAST("exactly average_fps" AS VARCHAR) <> "average_fps"))"""
    )
    column = form("pass", ["1", "2", "x"])
    assert (column.spelling(), column.exact()) == (None, None)
    assert column.value() == 'TRY_CAST("pass" AS BIGINT)'
    assert column.wrong() == (
        '"value of pass" IS NULL OR CAST("value of pass" AS VARCHAR) <> "pass"'
    )


def test_a_number_is_held_against_both_its_bounds():
    read = '"value of pass"'
    assert form("pass", ["1"]).beyond() == [f"{read} < 1::BIGINT", f"{read} > 999::BIGINT"]
    assert form("started_at", [""]).beyond() == []


def test_a_required_number_that_no_cell_holds_has_no_plain_form():
    assert form("pass", ["x", ""]) is None


def test_a_time_is_plain_with_its_offset_from_zero_alone():
    column = form("started_at", ["2026-10-05T09:20:10Z"])
    assert column.wrong().startswith("(\"started_at\" <> '' AND (NOT regexp_full_match(")
    assert column.value() == 'TRY_CAST("started_at" AS TIMESTAMP)'
