# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""A short table is looked through in the program; only where nothing is wrong that is all."""

from __future__ import annotations

import pytest

from rigledger.contract import load_contract
from rigledger.contract.compile_sql import compile_checks, compile_steps
from rigledger.contract.sql_text import identifier
from rigledger.intake.first_look import look_through
from rigledger.intake.texttable import make_table

SESSIONS = load_contract().wide("handed_in", "sessions")
COLUMNS = ("rig", "session", "boot", "round", "started_on", "os")
ROWS = [
    ("bench", "1", "1", "1", "2026-10-05", "desktop-os 11"),
    ("bench", "2", "2", "1", "2026-10-06", "desktop-os 11"),
]
WRONG = {
    "a cell is blank": ("os", "", "cells"),
    "a cell is not there": ("os", None, "cells"),
    "a cell is misspelt": ("boot", "two", "cells"),
    "a cell is out of bounds": ("round", "100", "cells"),
    "a key stands twice": ("session", "1", "keys"),
    "a further key stands twice": ("boot", "1", "keys"),
    "a reference leads nowhere": ("rig", "bank", "references"),
}


def look(con, rows, columns=COLUMNS, *, rigs="rigs"):
    """Give what the first look leaves to the checks, and what they find by part."""
    make_table(con, "held", {"_row": "BIGINT"} | dict.fromkeys(columns, "VARCHAR"), rows)
    make_table(con, "rigs", {"rig": "VARCHAR"}, [["bench"]])
    references = {"rigs": rigs} if rigs else {}
    steps = compile_steps(SESSIONS, relation="held", columns=columns, references=references)
    found = {
        step.part for step in steps if con.execute(step.violations(f"({step.suspects})")).fetchall()
    }
    doubts = look_through(con, SESSIONS, "held", columns=columns, references=references)
    return doubts.columns, set(doubts.parts), found


def numbered(rows):
    return [(number, *row) for number, row in enumerate(rows, 2)]


def test_a_sound_table_is_seen_to_be_sound(con):
    assert look(con, numbered(ROWS)) == ((), set(), set())


@pytest.mark.parametrize("what", WRONG)
def test_whatever_is_wrong_is_left_to_the_checks(con, what):
    column, cell, part = WRONG[what]
    place = COLUMNS.index(column)
    spoilt = (*ROWS[1][:place], cell, *ROWS[1][place + 1 :])
    doubtful = (column,) if part == "cells" else ()
    assert look(con, numbered([ROWS[0], spoilt])) == (doubtful, {part}, {part})


def test_a_letter_beyond_ascii_is_left_to_the_checks_which_find_nothing(con):
    rows = [ROWS[0], (*ROWS[1][:-1], "système 11")]
    assert look(con, numbered(rows)) == (("os",), {"cells"}, set())


def test_references_into_a_table_that_could_not_be_read_are_not_looked_at(con):
    rows = [ROWS[0], ("bank", *ROWS[1][1:])]
    assert look(con, numbered(rows), rigs=None) == ((), set(), set())


@pytest.mark.parametrize(("columns", "rows"), [(COLUMNS, []), ((), [(2,), (3,)])])
def test_a_table_without_rows_or_columns_has_nothing_wrong(con, columns, rows):
    assert look(con, rows, columns) == ((), set(), set())


def test_blank_keys_are_no_key_twice_where_the_key_may_be_blank(con):
    """As the checks have it: what is wrong with such rows is that the cells are missing."""
    rows = [(2, *("",) * len(COLUMNS)), (3, *("",) * len(COLUMNS))]
    make_table(con, "held", {"_row": "BIGINT"} | dict.fromkeys(COLUMNS, "VARCHAR"), rows)
    checks = compile_checks(SESSIONS, relation="held", columns=COLUMNS)
    found = con.execute(f"SELECT DISTINCT rule FROM ({checks})").fetchall()
    assert found == [("required_missing",)]
    assert identifier("rig") in checks
