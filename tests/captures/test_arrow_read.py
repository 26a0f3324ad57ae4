from __future__ import annotations

import gzip
from typing import TYPE_CHECKING

import pyarrow as pa
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from rigledger.captures import batch as batch_module
from rigledger.captures.arrow_read import frames_of, has_arrow, may_be_parsed
from rigledger.captures.batch import read_captures
from rigledger.captures.read import parse_capture
from rigledger.captures.source import CaptureSource

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

MS = CaptureSource("t", 6)


def taken(
    folder: Path, data: str | bytes, source: CaptureSource = MS, name: str = "a.csv"
) -> object:
    path = folder / name
    path.write_bytes(data.encode("utf-8") if isinstance(data, str) else data)
    frames = frames_of(path, source)
    return None if frames is None else frames.tolist()


@pytest.mark.parametrize(
    "text",
    [
        "\ufefft\r\n1.5\r\n2.5\r\n",
        'who,t,where\nx,1.5,"a,b\n"\n"ä",2.5,\n',
        't\n"1.5"\n" 2.5"\n',
        "n,t\n1,1.5\n\n2,2.5e0\n\n",
    ],
    ids=["BOM and CRLF", "other columns", "quotes", "blank rows, exponent"],
)
def test_a_plain_file_is_taken(tmp_path: Path, text: str) -> None:
    assert taken(tmp_path, text) == [1_500_000, 2_500_000]


def test_decimal_commas_are_taken_where_they_are_declared(tmp_path: Path) -> None:
    source = CaptureSource("t", 6, delimiter=";", decimal=",")
    assert taken(tmp_path, "n;t\n1;1,5\n2;2,5\n", source) == [1_500_000, 2_500_000]
    assert taken(tmp_path, "n;t\n1;1.5\n2;2,5\n", source) is None


def test_points_in_time_are_taken_while_they_are_exact(tmp_path: Path) -> None:
    source = CaptureSource("t", 9, timestamps=True)
    assert taken(tmp_path, "t\n60.000000001\n60.016666668\n", source) == [16_666_667]
    assert taken(tmp_path, "t\n1764000000.000000001\n1764000000.016666668\n", source) is None


@pytest.mark.parametrize(
    "text",
    [
        "", "t", "t\n", "t\n0\n", "t\n-1\n", "t\nnan\n", "t\ninf\n", "t\nx\n", "t\n1\n\n2\n",
        "t\n1_0\n", "t\n1,2\n", "n,t\n1\n", "t,t\n1,2\n", "n\n1\n", 'a,"t"\n1,2\n', "t\r1\r2\r",
        "t\n0.0000005\n", "t\n9e12\n",
    ],
)  # fmt: skip
def test_a_file_in_doubt_is_left_to_the_other_readers(tmp_path: Path, text: str) -> None:
    assert taken(tmp_path, text) is None


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("a.csv", b"t,n\n1,\xff\n"),
        ("a.csv.gz", gzip.compress(b"t\n1\n2\n")[:-9]),
        ("a.csv.gz", b"no gzip"),
        ("a.csv.zst", pa.compress(b"t\n1\n2\n", codec="zstd", asbytes=True)[:-3]),
    ],
    ids=["not UTF-8", "cut short", "not packed", "cut short too"],
)
def test_a_broken_file_is_left_to_the_other_readers(tmp_path: Path, name: str, data: bytes) -> None:
    assert taken(tmp_path, data, name=name) is None
    assert frames_of(tmp_path / "gone.csv", MS) is None


def test_packed_files_are_taken(tmp_path: Path) -> None:
    packed = pa.compress(b"t\n1\n2\n", codec="zstd", asbytes=True)
    assert taken(tmp_path, packed, name="a.csv.zst") == [1_000_000, 2_000_000]
    packed = gzip.compress(b"t\n1\n") + gzip.compress(b"2\n")
    assert taken(tmp_path, packed, name="a.csv.gz") == [1_000_000, 2_000_000]


ODD = [
    "0", "x", "", "nan", "1_0", " 2", "2\t", "1.", ".5", "+1", "-0.5", '"3"', "1e400", "1e0001",
    "1e-0003", "1E-3", "1e", "0x1A", "1.2.3", "--1", "inf", "1 2", "\u00a02", "\u0663", "0001",
    "1e-400", "_1", "9e12", "1e12", "0.0000005", "0.00000049", "null", "NA", "true", '""',
]  # fmt: skip
NUMBER = st.one_of(
    st.decimals(0, 10**4, places=4).map(lambda number: format(number, "f")),
    st.decimals(0, 10**6, places=8).map(lambda number: format(number, "f")),
    st.floats(1e-7, 1e9).map(repr),
)
CELLS = st.lists(st.one_of(NUMBER, NUMBER, st.sampled_from(ODD)), max_size=6)


@settings(
    settings.get_profile("costly"), suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(cells=CELLS, clock=st.booleans(), second=st.booleans())
def test_what_is_taken_is_what_the_other_readers_give(
    con: duckdb.DuckDBPyConnection,
    tmp_path: Path,
    *,
    cells: list[str],
    clock: bool,
    second: bool,
) -> None:
    source = CaptureSource("t", 6, timestamps=clock)
    lines = [f"{cell},{place}" for place, cell in enumerate(cells)] if second else cells
    frames = taken(tmp_path, "\n".join(["t,n" if second else "t", *lines, ""]), source)
    if frames is not None:
        assert parse_capture(con, tmp_path / "a.csv", source, "f").problems == ()
        kept = con.execute("select frame_ns from f order by rowid").fetchall()
        assert [(frame,) for frame in frames] == kept


def test_the_readers_of_many_files_agree_whoever_takes_them(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    texts = {"a.csv": "t\n1\n", "b.csv": "t\nx\n", "c.csv": "t\n1_0\n", "d.csv": "t\n2\n3.5\n"}
    for name, text in texts.items():
        (tmp_path / name).write_text(text, encoding="utf-8")
    paths = [tmp_path / name for name in texts]
    query = (
        "select capture_file, list(frame_ns order by f.rowid) from f join f_files using (place) "
        "group by all order by all"
    )
    whole = (read_captures(con, paths, MS, "f"), con.execute(query).fetchall())
    monkeypatch.setattr(batch_module, "LEAST_BYTES", 0)
    assert whole == (read_captures(con, paths, MS, "f"), con.execute(query).fetchall())
    assert [frames for _, frames in whole[1]] == [[1_000_000], [2_000_000, 3_500_000]]


def test_only_utf_8_is_parsed() -> None:
    assert has_arrow()
    assert may_be_parsed(MS)
    assert not may_be_parsed(CaptureSource("t", 6, encoding="utf-16"))
