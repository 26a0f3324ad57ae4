"""Of very long tables frictionless reads a sample, and every row is checked where it is."""

from __future__ import annotations

import json
import shutil
from datetime import date
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, Protocol

import pytest

from rigledger.contract import load_contract
from rigledger.files import hashes_below
from rigledger.release import sampled
from rigledger.release.published import source_tables
from rigledger.release.sampled import compiled_problems, read_in_part, write_samples
from rigledger.release.validate import MadePackage, frictionless_problems
from rigledger.release.write import ReleaseInputs, write_release
from rigledger.remembered import Remembered

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import duckdb

ALL_LONG = {"measurements", "runs", "runs_wide", "changes"}


class Source(Protocol):
    """The fixture of the small study; writing a release leaves its tables there."""

    con: duckdb.DuckDBPyConnection
    design: Any


@pytest.fixture(autouse=True)
def short(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    """Let a table of more than 40 rows be a long one, for tests of a release with such tables."""
    if "long" in request.fixturenames:
        shorten(monkeypatch)


def shorten(patch: pytest.MonkeyPatch) -> None:
    patch.setattr(sampled, "MOST_ROWS", 40)
    patch.setattr(sampled, "SAMPLE", 15)


@pytest.fixture(scope="module")
def made(
    made_source: Source,
    claims: Path,
    copied: Callable[[Source], Source],
    tmp_path_factory: pytest.TempPathFactory,
) -> tuple[Path, Source]:
    """Write a release with long tables, once; and the tables that this left in its source."""
    source = copied(made_source)
    inputs = ReleaseInputs(released_on=date(2026, 11, 25), claims=claims)
    with pytest.MonkeyPatch.context() as patch:
        shorten(patch)
        patch.setattr("rigledger.release.write.refuse_invalid", lambda *_: None)
        folder = tmp_path_factory.mktemp("long")
        done = write_release(source.con, source.design, load_contract(), inputs, folder)
    return done.folder, source


@pytest.fixture
def long(made: tuple[Path, Source], tmp_path: Path) -> tuple[Path, set[str]]:
    """Give a copy of the release with long tables, and their names."""
    folder = shutil.copytree(made[0], tmp_path / made[0].name)
    results = json.loads((folder / "quality" / "results.json").read_text(encoding="utf-8"))
    return folder, set(results["read_in_part"])


@pytest.fixture
def source(made: tuple[Path, Source], copied: Callable[[Source], Source]) -> Source:
    """A copy of the tables from which the release with long tables was written."""
    return copied(made[1])


def view(source: Source, names: set[str]) -> SimpleNamespace:
    contract = load_contract()
    return SimpleNamespace(
        results={"read_in_part": dict.fromkeys(names)}, contract=contract, con=source.con,
        published=source_tables(contract),
    )  # fmt: skip


def test_a_release_says_which_tables_were_read_in_part() -> None:
    assert read_in_part({"runs": 100_001, "cells": 100_000}) == {
        "runs": {"rows": 100_001, "read_by_frictionless": 4_000, "seed": 20261125}
    }
    assert read_in_part({"runs": 100_000}) == {}


def test_a_sample_of_a_long_table_and_all_of_the_others_is_valid(
    long: tuple[Path, set[str]], tmp_path: Path
) -> None:
    folder, names = long
    assert names >= ALL_LONG
    descriptor = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    package = MadePackage(folder, descriptor, tmp_path / "read", names)
    assert frictionless_problems(package, Remembered()) == []
    resources = {held["name"]: held for held in descriptor["resources"]}
    found = write_samples(folder, tmp_path / "samples", resources, ["runs", "measurements"])
    lines = (tmp_path / "samples" / "data" / "runs.csv").read_text(encoding="utf-8").splitlines()
    whole = (folder / "data" / "runs.csv").read_text(encoding="utf-8").splitlines()
    assert (len(lines), lines[0]) == (16, whole[0])
    assert set(lines) < set(whole)
    led_to = {
        name: {key["reference"]["resource"] for key in held["schema"].get("foreignKeys", [])}
        for name, held in found.items()
    }
    assert led_to["measurements"] == {"metrics"}  # every key into runs is left to the whole check
    assert led_to["runs"] == {"sessions", "workloads", "levels", "captures"}


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ("update measurements set origin = 'guessed'", "breaks the contract: not_in_vocabulary"),
        ("update measurements set value = null", "breaks the contract: required_missing"),
        (
            "update measurements set run = 'anna.fast.1.999'",
            "breaks the contract: unknown_reference",
        ),
        ("insert into measurements from measurements", "breaks the contract: duplicate_key"),
    ],
)
def test_every_row_of_a_long_table_is_checked(
    long: tuple[Path, set[str]], source: Source, tmp_path: Path, change: str, says: str
) -> None:
    folder, _ = long
    looked_at = view(source, {"measurements"})
    assert compiled_problems(folder, looked_at, tmp_path / "fine") == []
    where = " where run = 'anna.fast.1.001' and metric = 'average_fps'"
    source.con.execute(change + where)
    found = compiled_problems(folder, looked_at, tmp_path / "wrong")
    assert any(says in text for text in found)
    assert compiled_problems(folder, view(source, set()), tmp_path / "none") == []
    assert not (tmp_path / "none").exists()


def test_what_was_drawn_is_held_against_the_rows_that_it_was_written_from(
    long: tuple[Path, set[str]], source: Source, tmp_path: Path
) -> None:
    folder, _ = long
    looked_at = view(source, {"runs"})
    assert compiled_problems(folder, looked_at, tmp_path / "fine") == []
    line = (tmp_path / "fine" / "data" / "runs.csv").read_text(encoding="utf-8").splitlines()[3]
    path = folder / "data" / "runs.csv"
    whole = path.read_text(encoding="utf-8")
    row = whole[: whole.index(line)].count("\n") + 1

    path.write_text(whole.replace(line, line.replace(",", "x,", 1)), encoding="utf-8")
    assert compiled_problems(folder, looked_at, tmp_path / "other") == [
        f"data/runs.csv, row {row}: it was written otherwise than it stands in the table"
    ]
    path.write_text(whole.removesuffix("\n").rpartition("\n")[0] + "\n", encoding="utf-8")
    rows = whole.count("\n") - 1
    assert compiled_problems(folder, looked_at, tmp_path / "cut") == [
        f"data/runs.csv: {rows - 1} records were written of {rows} rows"
    ]
    path.write_text(whole.replace(line, line + '"'), encoding="utf-8")
    (says,) = compiled_problems(folder, looked_at, tmp_path / "open")
    assert "records were written of" in says


def test_rows_that_were_seen_to_stand_in_order_are_taken_as_they_stand(
    long: tuple[Path, set[str]], source: Source, tmp_path: Path
) -> None:
    folder, _ = long
    looked_at = view(source, {"runs"})
    source.con.execute("create or replace table runs as from runs order by run")
    assert compiled_problems(folder, looked_at, tmp_path / "in-order", {"runs"}) == []
    source.con.execute("create or replace table runs as from runs order by run desc")
    assert compiled_problems(folder, looked_at, tmp_path / "sorted") == []
    assert compiled_problems(folder, looked_at, tmp_path / "turned", {"runs"}) != []


def test_what_was_drawn_is_the_sample_that_is_read(
    long: tuple[Path, set[str]], source: Source, tmp_path: Path
) -> None:
    folder, _ = long
    descriptor = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    resources = {held["name"]: held for held in descriptor["resources"]}
    drawn, again = tmp_path / "drawn", tmp_path / "again"
    assert compiled_problems(folder, view(source, {"runs", "measurements"}), drawn) == []
    before = hashes_below(drawn)
    found = write_samples(folder, drawn, resources, ["runs", "measurements"])
    assert found == write_samples(folder, again, resources, ["runs", "measurements"])
    assert hashes_below(drawn) == hashes_below(again)
    assert before.items() <= hashes_below(again).items()
    assert sorted(before) == ["data/measurements.csv", "data/runs.csv"]
