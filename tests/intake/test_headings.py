"""What a heading means that is no column: named as the column, as another metric, or as neither."""

from __future__ import annotations

import tomllib

import pytest

from rigledger.contract.load import load_contract, schema_folder
from rigledger.intake.headings import meaning, numbers, words

CONTRACT = load_contract()
LOWS = tuple(name for name, metric in CONTRACT.metrics.items() if metric.tail_pct == 1)


def of(heading: str, table: str = "runs", there: tuple[str, ...] = ()) -> tuple[str, ...]:
    """Give the rule and the columns meant."""
    found = meaning(heading, CONTRACT.wide("handed_in", table), CONTRACT, there)
    assert found.reason
    return (found.rule, *found.meant)


@pytest.mark.parametrize(
    ("heading", "parts"),
    [
        ("low_0_1pct_fps", ("low", "0.1", "pct", "fps")),
        ("0,1 % Low", ("0.1", "pct", "low")),
        ("1% low (FPS)", ("1", "pct", "low", "fps")),
        ("Average FPS", ("average", "fps")),
    ],
)
def test_a_heading_is_read_in_words_and_numbers(heading: str, parts: tuple[str, ...]) -> None:
    assert parts == words(heading)


def test_a_tenth_of_a_per_cent_is_not_one_per_cent() -> None:
    assert frozenset({0.1}) == numbers(words("low_0_1pct_fps"))
    assert frozenset({1.0}) == numbers(words("low_1pct_rank_fps"))


@pytest.mark.parametrize(
    ("table", "heading", "column"),
    [
        ("runs", "Average FPS", "average_fps"),
        ("runs", "avg_fps", "average_fps"),
        ("runs", "FPS (avg)", "average_fps"),
        ("runs", "averge_fps", "average_fps"),
        ("runs", "Resolution", "resolution"),
        ("runs", "Game", "workload"),
        ("runs", "Duration (s)", "duration_s"),
        ("runs", "1% low rank", "low_1pct_rank_fps"),
        ("runs", "low_1pct_rank", "low_1pct_rank_fps"),
        ("sessions", "BIOS", "firmware_version"),
        ("sessions", "Driver", "driver_version"),
        ("sessions", "Date", "started_on"),
        ("sessions", "power limit", "power_limit_w"),
        ("rigs", "GPU", "card"),
    ],
)
def test_what_a_person_writes_for_a_column_is_named_as_that(
    table: str, heading: str, column: str
) -> None:
    assert ("misspelt_column", column) == of(heading, table)


@pytest.mark.parametrize("heading", ["1% low", "1 % Low (fps)", "low 1%", "p99", "low_1pct_fps"])
def test_a_low_of_one_per_cent_may_be_any_of_its_definitions(heading: str) -> None:
    assert ("misspelt_column", *LOWS) == of(heading)


def test_a_low_under_an_unknown_definition_offers_the_known_ones() -> None:
    assert ("unknown_metric", *LOWS) == of("low_1pct_best_fps")


@pytest.mark.parametrize(
    "heading",
    [
        "low_0_1pct_fps", "0.1% low", "0,1 % low", "99.9 percentile", "power_w", "Power (W)",
        "gpu_temp_c", "frametime_ms", "min fps", "Max FPS", "median", "stutters",
    ],
)  # fmt: skip
def test_a_figure_without_a_definition_is_an_unknown_metric(heading: str) -> None:
    assert ("unknown_metric",) == of(heading)


def test_the_next_step_about_an_unknown_metric_names_the_known_ones() -> None:
    found = meaning("0.1% low", CONTRACT.wide("handed_in", "runs"), CONTRACT, ())
    assert all(name in (found.next_step or "") for name in CONTRACT.metrics)


@pytest.mark.parametrize("heading", ["average_fps_2", "FPS 3", "fps run 1", "Run 2"])
def test_a_column_a_run_is_told_that_a_run_is_a_row(heading: str) -> None:
    found = meaning(heading, CONTRACT.wide("handed_in", "runs"), CONTRACT, ())
    assert ("unknown_metric", ("average_fps",)) == (found.rule, found.meant)
    assert "a row of its own" in (found.next_step or "")


@pytest.mark.parametrize("heading", ["notes", "Comment", "who", "time"])
def test_a_column_of_the_testers_own_is_a_remark(heading: str) -> None:
    assert ("unknown_column",) == of(heading)


@pytest.mark.parametrize(
    ("heading", "table", "other"),
    [("driver_version", "runs", "sessions"), ("average_fps", "sessions", "runs")],
)
def test_a_column_of_another_table_is_told_where_it_belongs(
    heading: str, table: str, other: str
) -> None:
    found = meaning(heading, CONTRACT.wide("handed_in", table), CONTRACT, ())
    assert "unknown_column" == found.rule
    assert f"Move it to {other}, as {heading}." == found.next_step


def test_a_second_heading_for_a_column_that_is_there_is_a_remark() -> None:
    assert ("unknown_column",) == of("avg fps", "runs", ("average_fps",))


def test_the_lists_of_headings_name_columns_of_the_contract() -> None:
    held = tomllib.loads((schema_folder() / "headings.toml").read_text(encoding="utf-8"))
    known = {
        (name, column) for name in held for column in CONTRACT.wide("handed_in", name).field_names
    }
    assert {(name, column) for name, columns in held.items() for column in columns} <= known


def test_no_heading_is_listed_for_two_columns_of_a_table() -> None:
    held = tomllib.loads((schema_folder() / "headings.toml").read_text(encoding="utf-8"))
    for columns in held.values():
        listed = [words(heading) for headings in columns.values() for heading in headings]
        assert len(listed) == len(set(listed))
