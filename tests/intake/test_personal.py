# ruff: noqa: ANN001, ANN201 - fixtures are known by their names
"""What logs and notes give away is pointed out before it is published."""

from __future__ import annotations

import pytest

from rigledger.contract import load_contract
from rigledger.intake import personal
from rigledger.intake.log import FindingLog
from rigledger.intake.personal import find_personal

NUMBERS = b"1699999999.123456,16.7123,1234567890123,0000000012345678,serial,16.6\n"


def found(folder, **files: bytes) -> list[tuple[str, int | None, str | None]]:
    for name, data in files.items():
        (folder / name).write_bytes(data)
    log = FindingLog(load_contract())
    find_personal(folder, sorted(files), log)
    assert {item.severity for item in log.findings} <= {"remark"}
    return [(item.file, item.row, item.value) for item in log.findings]


@pytest.mark.parametrize(
    ("line", "value"),
    [
        (b"# written by anna.smith+test@example.org\n", "anna.smith+test@example.org"),
        (b"path,C:\\Users\\Anna\\logs\\run.csv\n", "C:\\Users\\Anna"),
        (b'"C:\\\\Users\\\\Anna\\\\logs"\n', "C:\\\\Users\\\\Anna"),
        (b"path;/home/anna/logs;1\n", "/home/anna"),
        (b"path;/Users/anna/logs;1\n", "/Users/anna"),
        (b"Serial Number: AB-1234567\n", "Serial Number: AB-1234567"),
        (b'"serial","9XK0012345"\n', 'serial","9XK0012345'),
    ],
)
def test_it_is_found_in_whatever_line_it_stands(tmp_path, line, value):
    log = b"ms,note\n" + 3 * NUMBERS + line
    assert found(tmp_path, **{"run.csv": log}) == [("run.csv", 5, value)]


def test_no_hint_is_of_what_numbers_are_made_of():
    hints = [hint for sign in personal._SIGNS for hint in sign.hints]
    assert [hint.translate(None, personal._OF_NUMBERS).lower() for hint in hints] == hints


def test_a_log_of_numbers_is_left_alone(tmp_path):
    assert found(tmp_path, **{"run.csv": b"serial,user\n" + 50_000 * NUMBERS}) == []


def test_each_kind_is_named_once_a_file(tmp_path):
    line = b"a@example.org,/home/anna,S/N 1234567\n"
    rows = [(row, value) for _, row, value in found(tmp_path, **{"run.log": 9 * line})]
    assert rows == [(1, "a@example.org"), (1, "/home/anna"), (1, "S/N 1234567")]


def test_the_row_is_right_in_a_large_file_and_across_pieces(tmp_path):
    lines = (1 << 20) // len(NUMBERS)
    data = NUMBERS * lines
    data += b"x" * ((1 << 20) - len(data) - 8) + b" a.longer.name@example.org\n"
    assert found(tmp_path, **{"run.csv": data}) == [
        ("run.csv", lines + 1, "a.longer.name@example.org")
    ]


def test_utf_16_is_looked_through_too(tmp_path):
    text = "ms\n16.6\nanna@example.org\n"
    assert found(tmp_path, **{"a.log": text.encode("utf-16")}) == [("a.log", 3, "anna@example.org")]


def test_empty_and_tiny_files_and_other_kinds_are_fine(tmp_path):
    files = {"a.csv": b"", "b.csv": b"1", "c.csv": b"ms", "d.parquet": b"a@example.org"}
    assert found(tmp_path, **files) == []
