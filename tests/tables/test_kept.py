"""Tables are computed once and kept until anything they follow from changes."""

from __future__ import annotations

import os
import shutil
from typing import TYPE_CHECKING

import duckdb
import pytest

from rigledger.contract import load_contract
from rigledger.study.design import read_design
from rigledger.study.layout import StudyFolder, open_study
from rigledger.tables import kept, write
from rigledger.tables.kept import kept_study, key_of
from rigledger.tables.write import Built

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from conftest import Ledger

ROWS = [(2, "b", 0.1 + 0.2), (1, "a", None)]


@pytest.fixture
def study(make_ledger: Callable[..., Ledger], tmp_path: Path) -> StudyFolder:
    make_ledger()  # writes study.toml
    (tmp_path / "sets" / "anna.first").mkdir(parents=True)
    (tmp_path / "sets" / "anna.first" / "runs.csv").write_text("run\n", encoding="utf-8")
    return open_study(tmp_path)


@pytest.fixture
def builds(monkeypatch: pytest.MonkeyPatch) -> list[StudyFolder]:
    """Stands in for the work, and counts how often it is done."""
    done: list[StudyFolder] = []

    def build(study: StudyFolder, *, threads: int = 2, begun: object = None) -> Built:
        assert threads
        assert begun is None
        done.append(study)
        con = duckdb.connect()
        con.execute("create table cells (n bigint, name varchar, value double)")
        con.executemany("insert into cells values (?, ?, ?)", ROWS)
        contract = load_contract()
        return Built(con, read_design(study.toml, contract), contract)

    monkeypatch.setattr(write, "build_study", build)
    return done


def test_the_second_time_the_same_tables_are_read_in_the_same_order(
    study: StudyFolder, builds: list[StudyFolder]
) -> None:
    for _ in range(3):
        built = kept_study(study)
        assert built.con.execute("from cells").fetchall() == ROWS
        assert built.con.execute("show tables").fetchall() == [("cells",)]
        assert built.design.study == "link-width"
    assert len(builds) == 1


@pytest.mark.parametrize(
    ("file", "counts"),
    [
        ("study.toml", True), ("corrections.toml", True), ("decisions.toml", True),
        ("sets/anna.first/runs.csv", True), ("sets/anna.second/runs.csv", True),
        ("captures/00.parquet", True), ("claims.toml", False), ("releases.toml", False),
        ("charts/a.svg", False),
    ],
)  # fmt: skip
def test_only_what_the_tables_follow_from_makes_them_new(
    study: StudyFolder, builds: list[StudyFolder], file: str, counts: bool
) -> None:
    kept_study(study)
    path = study.root / file
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a", encoding="utf-8") as stream:
        stream.write("# a word\n")
    kept_study(study)
    assert len(builds) == 1 + counts


def test_a_clock_that_goes_backwards_hides_no_change_and_makes_none(
    study: StudyFolder, builds: list[StudyFolder]
) -> None:
    runs = study.sets / "anna.first" / "runs.csv"
    kept_study(study)
    os.utime(runs, (1, 1))
    kept_study(study)
    assert len(builds) == 1
    runs.write_text("pun\n", encoding="utf-8")
    os.utime(runs, (1, 1))
    kept_study(study)
    assert len(builds) == 2


def test_a_register_that_is_shared_counts(study: StudyFolder) -> None:
    with study.toml.open("a", encoding="utf-8") as stream:
        stream.write('\n[register]\nfile = "../shared.toml"\n')
    before = key_of(study)
    (study.root.parent / "shared.toml").write_text("# rows\n", encoding="utf-8")
    assert key_of(study) != before


def test_an_altered_file_is_noticed_and_built_again(
    study: StudyFolder, builds: list[StudyFolder]
) -> None:
    kept_study(study)
    with duckdb.connect(study.kept / "tables.duckdb") as con:
        con.execute("update cells set value = 7")
    assert kept_study(study).con.execute("from cells").fetchall() == ROWS
    assert len(builds) == 2


def test_tables_are_not_kept_where_a_file_changed_while_they_were_built(
    study: StudyFolder, builds: list[StudyFolder], monkeypatch: pytest.MonkeyPatch
) -> None:
    text, build = study.toml.read_text(encoding="utf-8"), write.build_study

    def changing(study: StudyFolder, *, threads: int, begun: None) -> Built:
        study.toml.write_text(f"{text}# changed\n", encoding="utf-8")
        return build(study, threads=threads, begun=begun)

    with monkeypatch.context() as patch:
        patch.setattr(write, "build_study", changing)
        kept_study(study)
    study.toml.write_text(text, encoding="utf-8")
    kept_study(study)
    assert len(builds) == 2
    kept_study(study)
    assert len(builds) == 2


@pytest.mark.parametrize("name", ["code_sha256", "versions_of"])
def test_another_program_or_library_builds_again(
    study: StudyFolder, builds: list[StudyFolder], monkeypatch: pytest.MonkeyPatch, name: str
) -> None:
    kept_study(study)
    monkeypatch.setattr(kept, name, lambda *_: "another")
    kept_study(study)
    assert len(builds) == 2


def test_a_damaged_file_is_built_again(study: StudyFolder, builds: list[StudyFolder]) -> None:
    kept_study(study)
    (study.kept / "tables.duckdb").write_bytes(b"no database")
    assert kept_study(study).con.execute("from cells").fetchall() == ROWS
    assert len(builds) == 2


def test_where_nothing_can_be_kept_the_tables_are_built(
    study: StudyFolder, builds: list[StudyFolder]
) -> None:
    study.kept.write_text("in the way", encoding="utf-8")
    assert kept_study(study).con.execute("from cells").fetchall() == ROWS
    assert len(builds) == 1


def test_what_is_kept_is_kept_out_of_version_control(
    study: StudyFolder, builds: list[StudyFolder]
) -> None:
    kept_study(study)
    assert builds
    assert (study.kept / ".gitignore").read_text(encoding="utf-8") == "*\n"
    shutil.rmtree(study.kept)
