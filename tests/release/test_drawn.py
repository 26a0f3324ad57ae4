"""Records are drawn from a CSV file as they stand in it, each as likely as any other."""

from __future__ import annotations

import csv
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.release import drawn
from rigledger.release.drawn import draw, record_ends

if TYPE_CHECKING:
    from pathlib import Path

CELL = st.text(st.sampled_from('ab,"\né'), max_size=4)
SETTINGS = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)


def written(path: Path, rows: list[tuple[str, str]]) -> None:
    """Write rows with Python's own writer, an independent one."""
    with path.open("w", encoding="utf-8", newline="") as stream:
        csv.writer(stream, lineterminator="\n").writerows([("one", "two"), *rows])


@SETTINGS
@given(st.lists(st.tuples(CELL, CELL), max_size=5), st.integers(1, 9))
def test_all_records_come_back_where_no_fewer_are_asked_for(
    tmp_path: Path, rows: list[tuple[str, str]], chunk: int
) -> None:
    path = tmp_path / "held.csv"
    written(path, rows)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(drawn, "_CHUNK", chunk)
        found = draw(path, 5, 1)
    assert (found.records, found.places) == (len(rows), tuple(range(len(rows))))
    assert found.text == path.read_bytes()
    assert found.rows() == rows


def test_what_is_drawn_follows_from_the_seed_and_stands_in_order(tmp_path: Path) -> None:
    path = tmp_path / "held.csv"
    rows = [(f"a{number}", 'x,"\n') for number in range(1000)]
    written(path, rows)
    found = draw(path, 10, 7)
    assert found == draw(path, 10, 7)
    assert found.places != draw(path, 10, 8).places
    assert list(found.places) == sorted(set(found.places))
    assert found.rows() == [rows[place] for place in found.places]


def test_each_record_is_drawn_about_as_often(tmp_path: Path) -> None:
    path = tmp_path / "held.csv"
    written(path, [("x" * 40 * (number % 2), "") for number in range(10)])
    times = [0] * 10
    for seed in range(300):
        for place in draw(path, 3, seed).places:
            times[place] += 1
    assert sum(times) == 900
    assert min(times) > 60
    assert max(times) < 120


def test_a_file_without_a_record_gives_none(tmp_path: Path) -> None:
    path = tmp_path / "held.csv"
    path.write_bytes(b"")
    assert (draw(path, 3, 1).records, draw(path, 3, 1).text) == (0, b"")
    assert record_ends(path).tolist() == []
    path.write_bytes(b"one,two\n")
    assert (draw(path, 3, 1).records, draw(path, 3, 1).text) == (0, b"one,two\n")


@pytest.mark.parametrize("text", [b'one\n"a\n', b'one\n"a"b\n', b"one\n\xff\n"])
def test_what_is_no_csv_is_refused(text: bytes) -> None:
    found = drawn.Drawn(1, (0,), text)
    with pytest.raises(ValueError):  # noqa: PT011 - the csv module says what it is
        found.rows()
