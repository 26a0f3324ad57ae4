"""What a release is expected to be, and what happens when it is not."""

from __future__ import annotations

import json
from datetime import date
from typing import TYPE_CHECKING, Any, Protocol

import duckdb
import numpy as np
import pytest

from rigledger.contract import load_contract
from rigledger.release.changes_words import markdown
from rigledger.release.errors import ReleaseError
from rigledger.release.evaluate import exception_in, result_of
from rigledger.release.expectations import EACH_ITS_OWN, Against, Expectation, expectations
from rigledger.release.published import source_tables
from rigledger.release.quality import _refuse_failed_gates, assess, make_keys

if TYPE_CHECKING:
    from rigledger.release.write import ReleaseResult
    from rigledger.study.model import Design


class Source(Protocol):
    """The fixture of the small study."""

    con: duckdb.DuckDBPyConnection
    design: Design


TABLES = tuple(
    load_contract().table("source", name) for name in ("runs", "facts", "sessions", "sets")
)
ROWS = {
    "runs": 48, "facts": 0, "sessions": 4, "measured_runs": 48, "planned_cells": 16,
    "table_keys": 2,
}  # fmt: skip
ONE = Expectation("runs", "ExpectTableRowCountToBeBetween", {"min_value": 1}, "why", gates=True)


def names(design: Design, **rows_before: int) -> list[str]:
    return [item.name for item in expectations(design, ROWS, Against(rows_before, lost_pct=5))]


def test_each_expectation_has_a_name_of_its_own_and_says_why(source: Source) -> None:
    suite = expectations(source.design, ROWS, Against({"runs": 50}, lost_pct=5))
    assert len({item.name for item in suite}) == len(suite)
    assert all(item.why for item in suite)
    assert list(suite) == sorted(suite, key=lambda item: item.name)


def test_the_keys_of_each_table_that_has_rows_are_counted() -> None:
    with duckdb.connect() as con:
        con.execute("create table runs as select 'one' as run union all select 'two'")
        con.execute("create table facts (session varchar, fact varchar)")
        con.execute("create table sessions as from (values ('first'), ('first')) held(session)")
        con.execute("create table sets as select null::varchar as set_id")
        make_keys(con, TABLES)
        assert con.sql("from table_keys order by all").fetchall() == [
            ("runs", EACH_ITS_OWN),
            ("sessions", "sessions has rows with the same key"),
            ("sets", "sets has rows without their key"),
        ]


@pytest.mark.parametrize("spoilt", ["update runs set run = null", "insert into runs from runs"])
def test_a_release_whose_keys_are_not_sound_does_not_exist(source: Source, spoilt: str) -> None:
    published = source_tables(load_contract())
    source.con.execute(spoilt)
    with pytest.raises(ReleaseError, match="counted twice") as caught:
        assess(source.con, source.design, published, None, date(2026, 11, 25))
    assert "runs has rows with" in str(caught.value)


def test_a_later_release_may_lose_few_rows(source: Source) -> None:
    suite = expectations(source.design, ROWS, Against({"runs": 100, "facts": 0}, lost_pct=5))
    held = {item.name: item for item in suite}
    assert held["runs.rows.no_fewer_than_before"].arguments == {"min_value": 95}
    assert "facts.rows.no_fewer_than_before" not in held
    assert "runs.rows.no_fewer_than_before" not in names(source.design)


def test_what_is_kept_has_no_ids_and_no_times(published: ReleaseResult) -> None:
    suite = json.loads((published.folder / "quality" / "expectations.json").read_bytes())
    results = json.loads((published.folder / "quality" / "results.json").read_bytes())
    assert [item["name"] for item in suite["expectations"]] == [
        item["name"] for item in results["results"]
    ]
    assert {key for item in results["results"] for key in item} == {"name", "met", "found"}
    assert results["met"] == sum(item["met"] for item in results["results"])
    assert results["rows"]["runs"] == 48


@pytest.mark.parametrize(
    "info",
    [
        {"raised_exception": True, "exception_message": "broken"},
        {"('column', 'x')": {"raised_exception": True, "exception_message": "broken"}},
    ],
)
def test_an_expectation_that_could_not_be_evaluated_is_not_taken_for_bad_data(
    info: dict[str, Any],
) -> None:
    assert exception_in(info) == "broken"
    with pytest.raises(ReleaseError, match="could not be evaluated: broken"):
        result_of(ONE.as_dict(), {"success": False, "result": {}, "exception_info": info})


def test_an_outcome_without_exception_is_kept() -> None:
    outcome = {
        "success": True, "result": {"observed_value": 3, "partial_unexpected_list": []},
        "exception_info": {"raised_exception": False, "exception_message": None},
    }  # fmt: skip
    assert result_of(ONE.as_dict(), outcome) == {
        "name": "",
        "met": True,
        "found": {"observed_value": 3},
    }


def test_the_values_of_a_column_without_any_are_left_out() -> None:
    outcome = {"success": True, "result": {"observed_value": np.array([])}, "exception_info": {}}
    assert result_of(ONE.as_dict(), outcome) == {"name": "", "met": True, "found": {}}


def test_only_gating_expectations_stop_a_release(source: Source) -> None:
    suite = expectations(source.design, ROWS, Against({"runs": 100}, lost_pct=5))
    gates = {item.name for item in suite if item.gates}
    met = {item.name: {"met": item.name in gates, "found": {}} for item in suite}
    assert len(gates) < len(suite)
    _refuse_failed_gates(suite, met, {})
    failed = met | {
        "table_keys.keys.ExpectColumnDistinctValuesToBeInSet": {"met": False, "found": {}}
    }
    with pytest.raises(ReleaseError, match="counted twice"):
        _refuse_failed_gates(suite, failed, {})


def test_text_from_a_study_is_shown_as_it_is_in_markdown() -> None:
    assert markdown("a|b\n# <i>*c*</i> [d](e)") == r"a\|b \# \<i\>\*c\*\</i\> \[d\](e)"
