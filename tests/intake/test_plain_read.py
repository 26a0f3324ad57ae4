# ruff: noqa: ANN001, ANN002, ANN003, ANN201, ANN202 - fixtures are known by their names
"""Read straight into types, a long file comes to what it comes to when it is read as text."""

from __future__ import annotations

import pytest

from rigledger.contract import load_contract
from rigledger.intake import csv_read, plain_read
from rigledger.intake.check import check_set
from rigledger.intake.database import locked_database
from rigledger.intake.gate import inspect
from rigledger.intake.log import FindingLog
from rigledger.intake.readset import read_set
from rigledger.intake.typed import make_typed

# Spellings that are no plain ones, right and wrong, each of which stands in one row.
ODD = {
    "average_fps": (
        "141,3", " 141.3", "0141.3", "141.", ".5", "+141.3", "1.413e2", "-0", "1_000", "inf", "nan",
        "99999", "0", "0.09", "1e400", "12345678901234567890", "141.33", "-141.3", "1 2",
    ),
    "pass": ("0", "1000", "1.0", "", "01", "-1", "99999999999999999999", "four"),
    "duration_s": ("86401", "60.123456789012345678", "0.0001", "5e-1"),
    "level": ("", "x4", "X16", "x16 ", "level"),
    "level_check": ("=1+1", '"', " ", "\u200b"),
    "role": ("Measured", "aborted", " "),
    "run": ("", "001", "a_b", "017"),
    "rig": ("other", ""),
    "started_at": ("2026-10-05T09:20:10Z", "2026-02-30T09:20:10Z", "2026-10-05T09:20:10", "noon"),
}  # fmt: skip


@pytest.fixture
def long(monkeypatch, take_for_long):
    """Lets every table be dealt with as those of a million rows are; lists what was read so."""
    tables = []
    read = plain_read.read_plain

    def listed(*args, **named):
        tables.append(read(*args, **named))
        return tables[-1]

    def begin():
        take_for_long()
        monkeypatch.setattr(csv_read, "read_plain", listed)
        return tables

    return begin


def spoil(made):
    """Put every odd spelling into a row of its own, below the clean rows."""
    clean = [dict(row) for row in made.runs]
    for row in made.runs:
        row |= {"started_at": "", "duration_s": ""}
    number = 100
    for column, cells in ODD.items():
        for cell in cells:
            number += 1
            fresh = {"run": f"{number}", "started_at": "", "duration_s": "", column: cell}
            made.runs.append(clean[number % 12] | fresh)


def test_every_odd_spelling_comes_to_the_same_findings(made, study, long):
    spoil(made)
    folder = made.write()
    short = check_set(folder, study)
    tables = long()
    assert check_set(folder, study) == short
    assert [table.odd for table in tables if table] == [41]
    assert len({finding.rule for finding in short.findings}) > 8


def typed_rows(folder, scratch, *, typed):
    """Give the runs in types, read straight into them or as text."""
    scratch.mkdir()
    contract = load_contract()
    with locked_database(folder, scratch) as con:
        log = FindingLog(contract)
        held = read_set(con, folder, inspect(folder, scratch).files, log, scratch, typed=typed)
        make_typed(con, held, contract)
        rows = con.execute("SELECT * FROM handed.runs ORDER BY _row").fetchall()
        steps = con.execute("SELECT * FROM handed.steps ORDER BY metric").fetchall()
        return rows, steps, held.tables["runs"].plain


def test_the_values_and_steps_of_a_clean_file_are_the_same(made, long, tmp_path):
    folder = made.write()
    *as_text, _ = typed_rows(folder, tmp_path / "one", typed=False)
    long()
    *straight, plain = typed_rows(folder, tmp_path / "two", typed=True)
    assert plain.odd == 0
    assert straight == as_text


@pytest.mark.parametrize(
    ("part", "kept"),
    [
        ("[same_for_all_runs]\nduration_s = 60.0\n", True),
        ("[same_for_all_runs]\nduration_s = 0.0\n", False),
        ('[same_for_all_runs]\nlevel = "x16"\n', False),  # differs in some rows
        ("[same_for_all_runs]\nlow_1pct_unstated_fps = 70.0\n", False),
        ("[same_for_workload.harbour-dawn]\nduration_s = 60.0\n", False),
        ('[units]\naverage_fps = "ms"\n', False),
        ('[files]\ndecimal = ","\n', False),
        ('[captures]\nunit = "ms"\n', False),
    ],
)
def test_what_the_set_states_of_all_rows_holds_as_well(made, study, long, part, kept):
    made.manifest += part
    folder = made.write()
    short = check_set(folder, study)
    tables = long()
    assert check_set(folder, study) == short
    assert any(tables) == kept


def test_a_file_with_many_odd_rows_is_read_as_text(made, study, long, monkeypatch):
    spoil(made)
    folder = made.write()
    short = check_set(folder, study)
    tables = long()
    monkeypatch.setattr(plain_read, "MOST_ODD", 0.05)
    assert check_set(folder, study) == short
    assert not any(tables)


def test_a_value_beyond_its_bounds_is_found_where_all_digits_are_plain(made, study, long):
    made.runs[3]["average_fps"] = "99999.0"
    folder = made.write()
    short = check_set(folder, study)
    tables = long()
    assert check_set(folder, study) == short
    assert [table.odd for table in tables if table] == [1]


def test_a_heading_again_among_the_rows_is_no_run(made, study, long):
    made.runs.insert(5, {name: name for name in made.runs[0]})
    folder = made.write()
    short = check_set(folder, study)
    tables = long()
    result = check_set(folder, study)
    assert result == short
    assert any(tables)
    assert result.counts["runs"] == len(made.runs) - 1
    assert "not_a_row" in {finding.rule for finding in result.findings}


def test_a_key_that_stands_twice_is_found(made, study, long):
    made.runs[5]["run"] = made.runs[4]["run"]
    made.runs[9]["run"] = made.runs[8]["run"] = "a_b"
    folder = made.write()
    short = check_set(folder, study)
    tables = long()
    assert check_set(folder, study) == short
    assert any(tables)
    assert [f.row for f in short.findings if f.rule == "duplicate_key"] == [7, 11]


def test_a_ragged_row_and_a_blank_row_send_the_file_to_the_reader_of_rows(made, study, long):
    folder = made.write()
    for odd in (b"one,two\n", b"," * (len(made.runs[0]) - 1) + b"\n"):
        with (folder / "runs.csv").open("ab") as stream:
            stream.write(odd)
        short = check_set(folder, study)
        long()
        assert check_set(folder, study) == short


@pytest.mark.parametrize("tail", [b"\xff,x\n", b"a\x00b,x\n", b"a\rb,x\n", b"\xe2\x82"])
def test_bytes_that_no_text_has_are_found_though_the_file_is_read_already(made, study, long, tail):
    folder = made.write()
    with (folder / "runs.csv").open("ab") as stream:
        stream.write(tail)
    short = check_set(folder, study)
    long()
    assert check_set(folder, study) == short
    assert short.verdict == "returned"


def test_a_file_in_another_encoding_is_not_read_ahead(made, study, long):
    folder = made.write()
    (folder / "runs.csv").write_bytes((folder / "runs.csv").read_bytes().decode().encode("utf-16"))
    short = check_set(folder, study)
    tables = long()
    assert check_set(folder, study) == short
    assert not any(tables)
    assert "encoding_not_stated" in {finding.rule for finding in short.findings}
