# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""Blocks come to the same sums by whatever short cut the runs allow."""

from __future__ import annotations

import itertools

import pytest

from rigledger.contract import load_contract
from rigledger.intake import blocks

CONTRACT = load_contract()
METRICS = [CONTRACT.metrics[name] for name in ("average_fps", "low_1pct_rank_fps")]
# Blocks of one to five runs whose lowest values stand there once, twice and three times.
VALUES = [
    values
    for count in range(1, 6)
    for values in itertools.product((60.1, 60.2, 61.0), repeat=count)
    if count < 4 or values[0] == 60.1
]


COLUMNS = {
    "_row": "BIGINT", "rig": "VARCHAR", "session": "VARCHAR", "workload": "VARCHAR",
    "title_build": "VARCHAR", "resolution": "VARCHAR", "level": "VARCHAR", "role": "VARCHAR",
    "pass": "BIGINT", "average_fps": "DOUBLE", "low_1pct_rank_fps": "DOUBLE",
}  # fmt: skip


@pytest.fixture
def con(con):
    con.execute("CREATE SCHEMA handed")
    con.execute(
        "CREATE TABLE handed.stacked AS SELECT 'bench' AS rig, '1' AS session, 7 AS stack_key"
    )
    return con


def fill(con, sets, *, spoil=None):
    """Put a block a set of values into the runs; ``spoil`` changes one row in nine."""
    rows = [
        ["bench", "1", f"w{block}", "1.0", "1920x1080", "x8", "measured", number, value, value / 2]
        for block, values in enumerate(sets)
        for number, value in enumerate(values, start=1)
    ]
    for row in rows[::9] if spoil else []:
        spoil(row)
    numbered = [[number, *row] for number, row in enumerate(rows, start=2)]
    filled = ", ".join(f"unnest(?::{kind}[]) AS {name}" for name, kind in COLUMNS.items())
    columns = [list(column) for column in zip(*numbered, strict=True)]
    con.execute(f"CREATE TABLE handed.runs AS SELECT {filled}", columns)


def sums(con):
    """Give the blocks, with what is told of the lowest value only where it is asked for."""
    blocks.make_blocks(con, METRICS, CONTRACT)
    alone = '"numbered of average_fps" >= 3 AND "alone of average_fps"'
    least = 'if("numbered of average_fps" >= 3, "least of average_fps", NULL)'
    rows = con.execute(
        'SELECT * EXCLUDE ("alone of average_fps", "least of average_fps"),'
        f" {alone} AS alone, {least} AS least FROM handed.block_sums ORDER BY first_row"
    ).fetchall()
    con.execute("DROP VIEW handed.blocks")
    con.execute("DROP TABLE handed.block_sums")
    return rows


def without_a_pass(row):
    row[7] = None


def without_a_value(row):
    row[8] = None


def at_zero(row):
    row[8] = 0.0


def of_another_role(row):
    row[6] = "sentinel"


@pytest.mark.parametrize("most", [3, 5])
@pytest.mark.parametrize("spoil", [None, without_a_pass, without_a_value, at_zero, of_another_role])
def test_short_cuts_change_nothing(con, monkeypatch, most, spoil):
    fill(con, [values for values in VALUES if len(values) <= most], spoil=spoil)
    short = sums(con)
    monkeypatch.setattr(blocks, "_FEW_PASSES", 0)
    plainly = {"average_fps", "low_1pct_rank_fps", "pass"}
    monkeypatch.setattr(
        blocks, "_held", lambda *_: ({name: blocks.Held(name) for name in plainly}, 9)
    )
    assert short == sums(con)


def test_the_lowest_value_is_alone_where_it_stands_but_once(con):
    fill(con, [(60.1, 60.2, 61.0), (60.1, 61.0, 60.1), (61.0, 60.1, 61.0), (60.2, 60.2, 60.2)])
    assert [row[-2:] for row in sums(con)] == [
        (True, 60.1),
        (False, 60.1),
        (True, 60.1),
        (False, 60.2),
    ]


def test_passes_that_stand_twice_are_not_taken_for_blocks_of_three(con):
    fill(con, [(60.1, 60.1, 61.0, 61.0)])
    con.execute("UPDATE handed.runs SET pass = 3 WHERE pass = 4")
    assert [row[-2:] for row in sums(con)] == [(False, 60.1)]
