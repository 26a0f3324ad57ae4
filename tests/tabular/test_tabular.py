"""Canonical CSV and Parquet: one spelling per value, and the same strictness on the way back."""

from __future__ import annotations

import csv
import io
import math
from datetime import date, datetime
from typing import TYPE_CHECKING

import duckdb
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from rigledger import misspelt, tabular
from rigledger.contract.model import Field, Table

if TYPE_CHECKING:
    from pathlib import Path

THINGS = Table(
    name="things",
    group="source",
    title="Things",
    description="One column of each type.",
    fields=tuple(
        Field(name=kind, title=kind, description=kind, type=kind)
        for kind in ("string", "integer", "number", "boolean", "date", "datetime")
    ),
    primary_key=("integer",),
)
ROW = ("a, b", 2, 60.0, True, date(2026, 10, 5), datetime(2026, 10, 5, 9, 12))


def held(*rows: tuple[object, ...]) -> duckdb.DuckDBPyConnection:
    con = duckdb.connect()
    tabular.create_tables(con, [THINGS])
    for row in rows:
        con.execute("INSERT INTO things VALUES (?, ?, ?, ?, ?, ?)", list(row))
    return con


def written(con: duckdb.DuckDBPyConnection, folder: Path) -> bytes:
    tabular.write_csv(con, THINGS, folder / "things.csv")
    return (folder / "things.csv").read_bytes()


def test_each_type_has_one_spelling_and_rows_stand_in_key_order(tmp_path: Path) -> None:
    con = held(ROW, (None, 1, -0.0, False, None, None), ("", -3, 1e16, None, None, None))
    assert written(con, tmp_path) == (
        b"string,integer,number,boolean,date,datetime\n"
        b",-3,1e+16,,,\n"
        b",1,0.0,false,,\n"
        b'"a, b",2,60.0,true,2026-10-05,2026-10-05T09:12:00Z\n'
    )


def test_a_table_without_a_key_is_ordered_by_all_its_columns(tmp_path: Path) -> None:
    keyless = Table("pairs", "derived", "Pairs", "Pairs.", THINGS.fields[:2])
    con = duckdb.connect()
    con.execute(
        "CREATE TABLE pairs AS FROM (VALUES ('b', 1), ('a', 10), ('a', 9)) AS t(string, integer)"
    )
    tabular.write_csv(con, keyless, tmp_path / "pairs.csv")
    assert (tmp_path / "pairs.csv").read_bytes() == b"string,integer\na,9\na,10\nb,1\n"


def test_text_is_quoted_as_rfc_4180_asks(tmp_path: Path) -> None:
    """RFC 4180, section 2, rules 6 and 7; Python's csv module is the independent reader."""
    texts = [
        "plain",
        'say "so"',
        "two\nlines",
        "a,b",
        " spaced ",
        "#hash",
        "=1+1",
        "ünïcode",
        "back\\slash",
        "NULL",
    ]
    con = held(*((text, number, None, None, None, None) for number, text in enumerate(texts)))
    rows = list(csv.reader(io.StringIO(written(con, tmp_path).decode("utf-8"), newline="")))
    assert [row[0] for row in rows[1:]] == texts


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_a_number_that_is_not_finite_is_never_written(tmp_path: Path, value: float) -> None:
    con = held((*ROW[:2], value, *ROW[3:]))
    with pytest.raises(tabular.TabularError) as caught:
        written(con, tmp_path)
    assert (caught.value.file, caught.value.column) == ("things", "number")
    assert not (tmp_path / "things.csv").exists()


def test_parts_of_a_second_are_refused_rather_than_dropped(tmp_path: Path) -> None:
    con = held((*ROW[:5], datetime(2026, 10, 5, 9, 12, 0, 500)))
    with pytest.raises(tabular.TabularError, match="parts of a second"):
        written(con, tmp_path)


def test_a_missing_column_is_named(tmp_path: Path) -> None:
    con = duckdb.connect()
    con.execute("CREATE TABLE things (strin VARCHAR)")
    with pytest.raises(tabular.TabularError, match="did you mean 'strin'"):
        written(con, tmp_path)


def test_reading_back_gives_the_same_rows_and_the_same_bytes(tmp_path: Path) -> None:
    con = held(ROW, (None, 1, -2.5, False, None, None))
    first = written(con, tmp_path)
    again = duckdb.connect()
    misspelt.load_csv(again, THINGS, tmp_path / "things.csv")
    assert again.execute("FROM things").fetchall() == [(None, 1, -2.5, False, None, None), ROW]
    assert written(again, tmp_path) == first


def test_parquet_holds_the_same_rows_with_types(tmp_path: Path) -> None:
    con = held(ROW, ("", 1, -0.0, False, None, None))
    tabular.write_parquet(con, THINGS, tmp_path / "things.parquet")
    rows = con.execute(f"FROM '{tmp_path / 'things.parquet'}'").fetchall()
    assert rows == [(None, 1, 0.0, False, None, None), ROW]
    assert math.copysign(1, rows[0][2]) == 1


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("integer", "1.0"), ("integer", " 1"), ("integer", "+1"), ("integer", "1_000"),
        ("integer", "01"),
        ("number", "60"), ("number", "nan"), ("number", "inf"), ("number", "1e400"),
        ("number", "1,5"),
        ("number", "-0.0"), ("number", "0.10"), ("boolean", "True"), ("boolean", "1"),
        ("date", "2026-1-5"),
        ("date", "infinity"), ("date", "2026-02-30"), ("datetime", "2026-10-05 09:12:00"),
        ("datetime", "2026-10-05T09:12:00+00:00"), ("datetime", "2026-10-05T09:12:00.5Z"),
    ],
)  # fmt: skip
def test_a_cell_in_another_spelling_is_named(tmp_path: Path, column: str, text: str) -> None:
    cells = dict.fromkeys(THINGS.field_names, "") | {"integer": "7"} | {column: text}
    path = tmp_path / "things.csv"
    line = ",".join(f'"{cell}"' if "," in cell else cell for cell in cells.values())
    path.write_text(",".join(cells) + "\n" + line + "\n", encoding="utf-8")
    with pytest.raises(tabular.TabularError) as caught:
        misspelt.load_csv(duckdb.connect(), THINGS, path)
    error = caught.value
    assert (error.file, error.row, error.column, error.value) == ("things.csv", 2, column, text)


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "empty"),
        (b"string,integer\n", "missing: number"),
        (b"string,integer,number,boolean,date,datetime,extra\n", "not known: extra"),
        (b"integer,string,number,boolean,date,datetime\n", "another order"),
        (b"string,integer,number,boolean,date,datetime\na,1\n", "can't be read as CSV"),
        (b"string,integer,number,boolean,date,datetime\n\xff,1,,,,\n", "can't be read"),
    ],
)
def test_a_file_of_another_shape_is_refused(tmp_path: Path, data: bytes, says: str) -> None:
    (tmp_path / "things.csv").write_bytes(data)
    with pytest.raises(tabular.TabularError, match=says):
        misspelt.load_csv(duckdb.connect(), THINGS, tmp_path / "things.csv")


@settings.get_profile("costly")
@given(
    number=st.floats(allow_nan=False, allow_infinity=False),
    integer=st.integers(-(2**62), 2**62),
    text=st.text(
        st.characters(blacklist_categories=("Cs",), blacklist_characters="\x00"), max_size=20
    ),
)
def test_any_value_survives_the_round_trip(
    tmp_path_factory: pytest.TempPathFactory, number: float, integer: int, text: str
) -> None:
    folder = tmp_path_factory.mktemp("round")
    con = held((text, integer, number, None, None, None))
    written(con, folder)
    misspelt.load_csv(con, THINGS, folder / "things.csv", "again")
    assert con.execute("SELECT string, integer, number FROM again").fetchone() == (
        text or None,
        integer,
        number,
    )


def test_a_folder_whose_name_looks_like_a_pattern_is_read(tmp_path: Path) -> None:
    folder = tmp_path / "set [1] it's *"
    folder.mkdir()
    written(held(ROW), folder)
    con = duckdb.connect()
    misspelt.load_csv(con, THINGS, folder / "things.csv")
    assert con.execute("FROM things").fetchall() == [ROW]
