"""The whole path on the invented study: what is found, held against what was planted."""

from __future__ import annotations

import csv
import datetime as dt
import io
import shutil
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.study.admit import admit
from rigledger.study.layout import open_study
from rigledger.study.load import load_source
from rigledger.tables.build import build_tables

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType

Rows = list[dict[str, str]]


def derived(study: Path, sets: list[Path]) -> dict[str, Rows]:
    """Admit sets to a study and give what the confusion tables are made of, as text."""
    contract = load_contract()
    for folder in sets:
        assert admit(open_study(study), folder, received_on=dt.date(2026, 11, 20)).admitted
    with duckdb.connect() as con:
        design = load_source(open_study(study), con, contract)
        names = ("comparisons", "factor_effects")
        build_tables(con, design, contract, tables=names)
        return {name: as_text(con, name) for name in names}


def as_text(con: duckdb.DuckDBPyConnection, table: str) -> Rows:
    found = con.execute(f"select columns(*)::varchar from {table}")
    names = [column[0] for column in found.description or ()]
    rows = found.fetchall()
    text = io.StringIO()
    writer = csv.writer(text)
    writer.writerows([names, *rows])
    return list(csv.DictReader(io.StringIO(text.getvalue(), newline="")))


@pytest.fixture
def planted(planting: ModuleType, truth: Path) -> tuple[object, ...]:
    return tuple(planting.read_planted(truth))


@pytest.fixture
def study(datasets: Path, tmp_path: Path) -> Path:
    folder = tmp_path / "link-width"
    folder.mkdir()
    shutil.copy(datasets / "link-width" / "study.toml", folder)
    return folder


@pytest.mark.slow
def test_a_study_in_which_nothing_was_planted_raises_no_more_alarms_than_stated(
    study: Path, generator: ModuleType, confusing: ModuleType, tmp_path: Path
) -> None:
    tables = derived(study, generator.generate(tmp_path / "sets", seed=7))
    directions, sizes, depends = confusing.confusion_tables(
        tables["comparisons"], tables["factor_effects"], [], 3
    )
    nothing = "nothing planted"
    assert {planted for planted, _ in directions.counts} == {nothing}
    assert sizes.counts.get((nothing, "material"), 0) <= 568 // 100
    # In each of four families (metric x contrast) the chance of any is 5 %: two are too many.
    estimable = sum(depends.counts.get((nothing, name), 0) for name in ("depends", "not shown"))
    assert estimable == 160
    assert depends.counts.get((nothing, "depends"), 0) <= 1
    # Of 95 % intervals one in twenty misses; of 568 that is 28, with a standard deviation of 5.
    wrong = sum(directions.counts.get((nothing, name), 0) for name in ("gain", "loss"))
    judged = sum(directions.counts.values()) - directions.counts.get((nothing, "no verdict"), 0)
    assert judged == 568
    assert wrong <= 28 + 3 * 5


@pytest.mark.slow
def test_planted_changes_beyond_the_material_change_are_found_and_none_is_settled_wrongly(
    study: Path,
    generator: ModuleType,
    planted: tuple[object, ...],
    confusing: ModuleType,
    tmp_path: Path,
) -> None:
    tables = derived(study, generator.generate(tmp_path / "sets", planted))
    _, sizes, depends = confusing.confusion_tables(
        tables["comparisons"], tables["factor_effects"], planted, 3
    )
    assert sizes.named == ()
    beyond = sum(count for (was, _), count in sizes.counts.items() if was == "beyond it")
    assert beyond == 46
    assert sizes.counts["beyond it", "material"] >= 42
    assert depends.counts["beyond it", "depends"] >= 28
    assert depends.counts.get(("nothing planted", "depends"), 0) <= 1
