from __future__ import annotations

import gzip
from typing import TYPE_CHECKING

import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from rigledger.captures import read as read_module
from rigledger.captures.problems import CaptureProblem
from rigledger.captures.read import CaptureRead, read_capture
from rigledger.captures.source import CaptureSource

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

MS = CaptureSource("frame_time_ms", 6)
CLOCK = CaptureSource("t", 9, timestamps=True)


def frames(con: duckdb.DuckDBPyConnection) -> list[int]:
    return [row[0] for row in con.execute("select frame_ns from f order by rowid").fetchall()]


def written(folder: Path, text: str | bytes, name: str = "a.csv") -> Path:
    path = folder / name
    path.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    return path


def read(
    con: duckdb.DuckDBPyConnection, path: Path, source: CaptureSource = MS
) -> tuple[CaptureRead, list[int]]:
    return read_capture(con, path, source, "f"), frames(con)


def places(result: CaptureRead) -> list[tuple[str, int | None, str | None]]:
    return [(problem.rule, problem.row, problem.value) for problem in result.problems]


def test_decimal_milliseconds_become_exact_nanoseconds(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    path = written(tmp_path, "frame_time_ms\n7.8370\n0.1\n16.6666665\n")
    expected = (CaptureRead(3, 24_603_667, ()), [7_837_000, 100_000, 16_666_667])
    assert expected == read(con, path)


@pytest.mark.parametrize(
    "text",
    [
        "\ufeffframe_time_ms\r\n1.5\r\n2.5\r\n",
        'who,frame_time_ms,where\nx,1.5,"a,b"\ny,2.5,\n',
        '"frame_time_ms"\n"1.5"\n"2.5"\n',
        "frame_time_ms\n1.5\n2.5\n\n\n",
        "frame_time_ms\n 1.5\n2.5e0 \n",
        "n,frame_time_ms\n1,1.5\n\n2,2.5\n",
    ],
    ids=["BOM and CRLF", "other columns", "quotes", "blank end", "spaces, exponent", "blank row"],
)
def test_layouts_that_mean_the_same_are_read_the_same(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, text: str
) -> None:
    assert (CaptureRead(2, 4_000_000, ()), [1_500_000, 2_500_000]) == read(
        con, written(tmp_path, text)
    )


def test_a_packed_file_is_read(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    path = written(tmp_path, gzip.compress(b"frame_time_ms\n1.5\n2.5\n"), "a.csv.gz")
    assert [1_500_000, 2_500_000] == read(con, path)[1]


def test_decimal_commas_and_semicolons_are_read_where_they_are_declared(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    path = written(tmp_path, "n;frame_time_ms\n1;1,5\n2;2,5\n")
    source = CaptureSource("frame_time_ms", 6, delimiter=";", decimal=",")
    assert [1_500_000, 2_500_000] == read(con, path, source)[1]


def test_another_encoding_is_read_where_it_is_declared(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    path = written(tmp_path, "Größe,frame_time_ms\nä,1.5\n".encode("utf-16"))
    source = CaptureSource("frame_time_ms", 6, encoding="utf-16")
    assert [1_500_000] == read(con, path, source)[1]


def test_timestamps_give_one_frame_less_than_points(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    path = written(tmp_path, "t\n1764000000.000000001\n1764000000.016666668\n1764000000.03\n")
    assert [16_666_667, 13_333_332] == read(con, path, CLOCK)[1]


def test_every_wrong_cell_is_named_with_its_physical_row(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    text = (
        "n,frame_time_ms\n1,1.5\n2,x\n\n3,\n4,NaN\n5,inf\n6,0\n7,-1.5\n8,1e400\n9\n10,1,2\n11,3\n"
    )
    result, kept = read(con, written(tmp_path, text))
    assert kept == []
    assert (result.frames, result.total_ns) == (0, 0)
    assert places(result) == [
        ("capture_not_a_number", 3, "x"),
        ("capture_value_missing", 5, ""),
        ("capture_not_finite", 6, "NaN"),
        ("capture_not_finite", 7, "inf"),
        ("capture_not_positive", 8, "0"),
        ("capture_not_positive", 9, "-1.5"),
        ("capture_out_of_bounds", 10, "1e400"),
        ("capture_ragged_row", 11, None),
        ("capture_ragged_row", 12, None),
    ]


def test_a_blank_line_inside_a_file_of_one_column_is_a_missing_value(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    result, _ = read(con, written(tmp_path, "frame_time_ms\n1.5\n\n2.5\n\n"))
    assert [("capture_value_missing", 3, "")] == places(result)


def test_a_clock_that_goes_back_or_stands_still_is_named(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    result, _ = read(con, written(tmp_path, "t\n5.00\n5.01\n5.01\n0.02\n0.03\n"), CLOCK)
    assert places(result) == [
        ("capture_frame_twice", 4, "5.01"),
        ("capture_clock_reset", 5, "0.02"),
    ]


def test_a_decimal_comma_that_was_not_declared_says_what_to_add(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    result, _ = read(con, written(tmp_path, 'frame_time_ms\n"7,8"\n'))
    (problem,) = result.problems
    assert (problem.rule, problem.row, problem.value) == ("capture_not_a_number", 2, "7,8")
    assert 'decimal = ","' in problem.next_step


@pytest.mark.parametrize("text", ["", "frame_time_ms\n", "frame_time_ms"])
def test_a_file_without_a_frame_is_empty(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, text: str
) -> None:
    assert [("capture_empty", None, None)] == places(read(con, written(tmp_path, text))[0])


def test_a_single_point_in_time_makes_no_frame(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    assert [("capture_empty", None, None)] == places(
        read(con, written(tmp_path, "t\n1.0\n"), CLOCK)[0]
    )


def test_a_missing_column_offers_near_names(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    result, _ = read(con, written(tmp_path, "frame_time,cpu\n1.5,2\n"))
    expected = CaptureProblem(
        "capture_column_missing",
        1,
        "frame_time_ms",
        None,
        "there is no column 'frame_time_ms'",
        "did you mean 'frame_time'?",
    )
    assert (expected,) == result.problems


def test_two_columns_of_one_name_are_refused(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    result, _ = read(con, written(tmp_path, "frame_time_ms,frame_time_ms\n1,2\n"))
    assert [("capture_column_missing", 1, None)] == places(result)


@pytest.mark.parametrize(
    ("name", "data"),
    [("a.csv", b"frame_time_ms\n\xff\xfe\n"), ("a.csv.gz", b"not gzip"), ("a.parquet", b"PAR1")],
)
def test_a_file_that_can_not_be_decoded_is_a_problem_and_no_crash(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, name: str, data: bytes
) -> None:
    result, _ = read(con, written(tmp_path, data, name))
    assert [("capture_unreadable", None, None)] == places(result)


def test_a_file_that_is_not_there_raises(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError):
        read_capture(con, tmp_path / "none.csv", MS, "f")


def test_a_capture_longer_than_the_contract_allows_is_out_of_bounds(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    result, _ = read(con, written(tmp_path, "frame_time_ms\n2000000000\n"))
    assert [("capture_out_of_bounds", None, "2000000000000000")] == places(result)


@pytest.mark.parametrize(
    "cells",
    [
        "values (7.837::double), (0.1)",
        "values (7.837::float), (0.1::float)",
        "values (7.837::decimal(9, 4)), (0.1)",
        "values ('7.837'), ('0.1')",
        "values ('7.837 '), ('1e-1')",
    ],
)
def test_parquet_columns_of_any_type_give_the_number_that_was_meant(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, cells: str
) -> None:
    path = tmp_path / "a.parquet"
    con.execute(f"copy (from ({cells}) as v (frame_time_ms)) to '{path.as_posix()}'")
    assert [7_837_000, 100_000] == read(con, path)[1]


def test_parquet_problems_are_numbered_by_row(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    path = tmp_path / "a.parquet"
    cells = "values (7.5::double), (null), ('nan'::double), (-1)"
    con.execute(f"copy (from ({cells}) as v (frame_time_ms)) to '{path.as_posix()}'")
    assert places(read(con, path)[0]) == [
        ("capture_value_missing", 2, ""),
        ("capture_not_finite", 3, "nan"),
        ("capture_not_positive", 4, "-1.0"),
    ]


ODD = [
    "0", "x", "", "nan", "1_0", "1_000.5", " 2", "2 ", "1.", ".5", "+1", "-0.5", '"3"', "1e400",
    "1e5", "1E-3", "1e", ".", "0x1A", "1.2.3", "--1", "inf", "1d", "1 2", "\u00a02", "\u0663",
    "0001", "'7'", "1e-400", "1e0001", "1e-0003", "5-", "_1", "9e12", "1e12", "0.0000005",
    "0.00000049",
]  # fmt: skip
CELL = st.one_of(
    st.decimals(0, 10**6, places=8).map(lambda number: format(number, "f")),
    st.floats(1e-7, 1e9).map(repr),
    st.sampled_from(ODD),
)


@settings(
    settings.get_profile("costly"), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    cells=st.lists(CELL, max_size=12),
    clock=st.booleans(),
    second=st.booleans(),
    comma=st.booleans(),
)
@example(cells=["0.0", "9e12"], clock=True, second=False, comma=False)
@example(cells=["9e12", "9.1e12"], clock=True, second=True, comma=False)
def test_the_fast_reader_says_what_the_slow_one_says(
    con: duckdb.DuckDBPyConnection,
    tmp_path: Path,
    *,
    cells: list[str],
    clock: bool,
    second: bool,
    comma: bool,
) -> None:
    source = CaptureSource("t", 6, timestamps=clock, delimiter=";", decimal="," if comma else ".")
    # Every third cell keeps its point, which is wrong where commas are declared.
    cells = [cell.replace(".", "," if comma and n % 3 else ".") for n, cell in enumerate(cells)]
    lines = [f"{cell};{place}" for place, cell in enumerate(cells)] if second else cells
    text = "\n".join(["t;n" if second else "t", *lines, ""])
    path = written(tmp_path, text)
    fast = read(con, path, source)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(read_module, "_fill_fast", lambda *_: False)
        slow = read(con, path, source)
    assert slow == fast
