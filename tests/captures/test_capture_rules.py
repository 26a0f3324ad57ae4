from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.captures.batch import read_captures
from rigledger.captures.read import read_capture
from rigledger.captures.source import capture_source
from rigledger.contract import load_contract
from rigledger.contract.load import schema_folder

if TYPE_CHECKING:
    import duckdb

    from rigledger.captures.problems import CaptureProblem

CONTRACT = load_contract()
EXAMPLES: dict[str, dict[str, Any]] = tomllib.loads(
    (schema_folder() / "capture_examples.toml").read_text(encoding="utf-8")
)
# These are about files beside runs or in a set, or about files that hold no text.
WITHOUT_FRAMES = {
    "capture_name", "capture_name_twice", "capture_missing", "capture_disagrees",
    "capture_outside_set", "capture_length_differs", "capture_twice", "capture_unreadable",
    "capture_column_type",
}  # fmt: skip
MEASURED = Path(__file__).parents[2] / "datasets" / "driver-threading" / "captures"


def read(
    con: duckdb.DuckDBPyConnection, folder: Path, code: str, which: str
) -> tuple[CaptureProblem, ...]:
    held = EXAMPLES[code]
    source = capture_source(held["declared"], CONTRACT)
    header = held.get(f"{which}_header", source.column)
    path = folder / "a.csv"
    path.write_text("\n".join([header, *held[which], ""]), encoding="utf-8")
    alone = read_capture(con, path, source, "one")
    assert alone == read_captures(con, [path], source, "f")[path.as_posix()]
    return alone.problems + alone.remarks


def test_every_rule_about_frames_has_an_example() -> None:
    rules = {code for code in CONTRACT.rules if code.startswith("capture_")}
    assert rules - WITHOUT_FRAMES == set(EXAMPLES)


@pytest.mark.parametrize("code", sorted(EXAMPLES))
def test_a_passing_example_is_read_without_a_word(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, code: str
) -> None:
    assert read(con, tmp_path, code, "passing") == ()


@pytest.mark.parametrize("code", sorted(EXAMPLES))
def test_a_failing_example_breaks_its_rule_and_no_other(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, code: str
) -> None:
    found = read(con, tmp_path, code, "failing")
    assert {problem.rule for problem in found} == {code}
    assert all(problem.reason for problem in found)


def test_no_rule_is_broken_by_what_was_really_measured(con: duckdb.DuckDBPyConnection) -> None:
    paths = sorted(MEASURED.glob("*.parquet"))
    source = capture_source({"frame_time_column": "frame_ns", "unit": "ns"}, CONTRACT)
    found = read_captures(con, paths, source, "f")
    assert len(found) == len(paths) == 352
    assert [item for item in found.values() if item.problems or item.remarks] == []


def test_the_unit_that_fits_is_named(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    (problem,) = read(con, tmp_path, "capture_unit", "failing")
    assert problem.reason == "the average would be 1.21e+05 fps, and 121 fps if the column held s"
    assert problem.next_step == 'state unit = "s" under [captures] if that is what the column holds'


def test_a_pause_is_placed_in_time(con: duckdb.DuckDBPyConnection, tmp_path: Path) -> None:
    (problem,) = read(con, tmp_path, "capture_pause", "failing")
    assert problem.reason == (
        "frame 42, 0.3 s from the start, takes 4.95 s; the mean frame takes 98.1 ms"
    )


def test_a_clock_that_starts_at_zero_in_a_frame_time_column_is_named_once(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    path = tmp_path / "a.csv"
    path.write_text("\n".join(["t", *(str(8 * n) for n in range(30)), ""]), encoding="utf-8")
    source = capture_source({"frame_time_column": "t", "unit": "ms"}, CONTRACT)
    found = read_capture(con, path, source, "f").problems
    assert [(problem.rule, problem.row) for problem in found] == [("capture_holds_points", None)]


def test_of_very_many_wrong_rows_the_first_are_named_and_the_rest_counted(
    con: duckdb.DuckDBPyConnection, tmp_path: Path
) -> None:
    path = tmp_path / "a.csv"
    path.write_text("t\n" + "x\n" * 1_500, encoding="utf-8")
    source = capture_source({"frame_time_column": "t", "unit": "ms"}, CONTRACT)
    found = read_capture(con, path, source, "f").problems
    assert [problem.row for problem in found] == [*range(2, 1_002), None]
    assert found[-1].reason == "500 more places of this file have problems"


@pytest.mark.parametrize(
    ("cells", "rule", "kind"),
    [
        ("values (timestamp '2026-10-05 09:12:00'), (timestamp '2026-10-05 09:12:01')",
         "capture_column_type", "TIMESTAMP"),
        ("values (true), (false)", "capture_column_type", "BOOLEAN"),
        ("values ([8.1::double])", "capture_column_type", "DOUBLE[]"),
        ("values ('\\x01'::blob)", "capture_column_type", "BLOB"),
    ],
)  # fmt: skip
def test_a_parquet_column_that_holds_no_numbers_is_one_finding(
    con: duckdb.DuckDBPyConnection, tmp_path: Path, cells: str, rule: str, kind: str
) -> None:
    path = tmp_path / "a.parquet"
    con.execute(f"copy (from ({cells}) as v (t)) to '{path.as_posix()}'")
    source = capture_source({"frame_time_column": "t", "unit": "ms"}, CONTRACT)
    found = read_captures(con, [path], source, "f")[path.as_posix()].problems
    reason = f"the column holds {kind}, not numbers"
    assert [(problem.rule, problem.reason) for problem in found] == [(rule, reason)]
