"""What a release may hold: only what its own sets reach."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any, Protocol

import pytest

from rigledger.contract import load_contract
from rigledger.release.design_text import design_toml
from rigledger.release.errors import ReleaseError
from rigledger.release.reach import restrict, restricted_design
from rigledger.study.design import read_design
from rigledger.study.model import Relation

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from rigledger.study.model import Design


class Source(Protocol):
    """The fixture of the small study."""

    con: duckdb.DuckDBPyConnection
    design: Design


PLATFORMS = {"brookfield-k4", "marsh-e2"}
CARDS = {"velmar-90", "velmar-50"}
WORKLOADS = {"harbour-dawn", "tall-grass"}


def read_back(design: Design, folder: Path) -> Design:
    (folder / "again.toml").write_text(design_toml(design), encoding="utf-8")
    return read_design(folder / "again.toml", load_contract())


def names(con: duckdb.DuckDBPyConnection, query: str) -> list[Any]:
    return [row[0] for row in con.execute(query).fetchall()]


def test_a_design_is_read_back_as_it_was_written(source: Source, tmp_path: Path) -> None:
    assert read_back(source.design, tmp_path) == source.design


def test_a_restricted_design_is_read_back_as_it_was_written(source: Source, tmp_path: Path) -> None:
    restricted = restrict(source.con, source.design, date(2026, 11, 25)).design
    assert read_back(restricted, tmp_path) == restricted


def test_a_relation_is_published_where_both_names_are(source: Source, tmp_path: Path) -> None:
    relation = Relation("anna", "dora", "anna", "one household", date(2026, 11, 20))
    design = replace(source.design, relations=(relation,))
    assert restrict(source.con, design, date(2026, 11, 25)).design.relations == ()
    assert read_back(design, tmp_path) == design


def test_counts_say_what_is_left_out(source: Source) -> None:
    reach = restrict(source.con, source.design, date(2026, 11, 25))
    assert reach.left_out == {
        "cards": 1, "contributors": 1, "facts": 1, "measurements": 24, "rigs": 1, "runs": 12,
        "sessions": 1, "sets": 1, "stacks": 1,
    }  # fmt: skip


def test_nothing_is_left_out_of_a_study_without_embargo(source: Source) -> None:
    relation = Relation("anna", "dora", "anna", "one household", date(2026, 11, 20))
    design = replace(source.design, relations=(relation,))
    source.con.execute("UPDATE sets SET embargo_until = NULL")
    reach = restrict(source.con, design, date(2026, 11, 25))
    assert (reach.design, reach.left_out) == (design, {})


def test_a_superseded_set_does_not_name_the_embargoed_one_that_replaced_it(source: Source) -> None:
    con = source.con
    con.execute(
        "INSERT INTO sets BY NAME SELECT * REPLACE ('anna.old' AS set_id, 'superseded' AS state, "
        "'superseded by dora.early' AS reason) FROM sets WHERE set_id = 'anna.autumn-1'"
    )
    con.execute("UPDATE sets SET supersedes = 'dora.early' WHERE set_id = 'anna.autumn-1'")
    restrict(con, source.design, date(2026, 11, 25))
    assert names(con, "SELECT reason FROM sets WHERE set_id = 'anna.old'") == [
        "superseded by a set that is not published yet"
    ]
    assert names(con, "SELECT supersedes FROM sets WHERE set_id = 'anna.autumn-1'") == [None]


def test_plan_lines_that_name_only_what_is_gone_are_left_out(source: Source) -> None:
    left = restricted_design(source.design, PLATFORMS, CARDS, {"tall-grass"})
    assert [part.cards for part in left.plan] == [("velmar-90", "velmar-50")]
    assert [held.workload for held in left.workloads] == ["tall-grass"]
    assert [held.workloads for held in left.title_sets] == [("tall-grass",)]
    assert left.plausible_ranges == ()


def test_a_list_that_keeps_some_of_its_names_stays(source: Source) -> None:
    left = restricted_design(source.design, PLATFORMS, {"velmar-50"}, WORKLOADS)
    assert [part.cards for part in left.plan] == [("velmar-50",)]


def test_card_classes_of_which_no_card_is_left_go_too(source: Source) -> None:
    plan = (*source.design.plan, replace(source.design.plan[0], cards=None, card_classes=("pair",)))
    left = restricted_design(replace(source.design, plan=plan), PLATFORMS, CARDS, WORKLOADS)
    assert len(left.plan) == 1


def test_a_plan_of_which_nothing_is_left_is_refused(source: Source) -> None:
    with pytest.raises(ReleaseError, match="no part of the plan"):
        restricted_design(source.design, PLATFORMS, {"some-other"}, WORKLOADS)
