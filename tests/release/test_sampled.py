"""Of very long tables frictionless reads a sample and the compiled check every row."""

from __future__ import annotations

import json
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract
from rigledger.files import hashes_below
from rigledger.release import sampled
from rigledger.release.published import source_tables
from rigledger.release.sampled import compiled_problems, read_in_part, write_samples
from rigledger.release.validate import frictionless_problems
from rigledger.remembered import Remembered

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from rigledger.release.write import ReleaseResult

ALL_LONG = {"measurements", "runs", "runs_wide", "changes"}


@pytest.fixture
def long(
    write: Callable[..., ReleaseResult], monkeypatch: pytest.MonkeyPatch
) -> tuple[Path, set[str]]:
    """Give a release to which a table of more than 40 rows is a long one, and its long tables."""
    monkeypatch.setattr(sampled, "MOST_ROWS", 40)
    monkeypatch.setattr(sampled, "SAMPLE", 15)
    folder = write().folder
    results = json.loads((folder / "quality" / "results.json").read_text(encoding="utf-8"))
    return folder, set(results["read_in_part"])


def view(names: set[str]) -> SimpleNamespace:
    contract = load_contract()
    return SimpleNamespace(
        results={"read_in_part": dict.fromkeys(names)}, contract=contract,
        published=source_tables(contract),
    )  # fmt: skip


def test_a_release_says_which_tables_were_read_in_part() -> None:
    assert read_in_part({"runs": 100_001, "cells": 100_000}) == {
        "runs": {"rows": 100_001, "read_by_frictionless": 10_000, "seed": 20261125}
    }
    assert read_in_part({"runs": 100_000}) == {}


def test_a_sample_of_a_long_table_and_all_of_the_others_is_valid(
    long: tuple[Path, set[str]], tmp_path: Path
) -> None:
    folder, names = long
    assert names >= ALL_LONG
    descriptor = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    assert frictionless_problems(folder, descriptor, tmp_path / "read", Remembered(), names) == []
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
    ("old", "new", "says"),
    [
        ("reported,", "guessed,", "breaks the contract: not_in_vocabulary"),
        ("average_fps,reported,", "average_fps,reported,x", "not a number as a release spells it"),
        ("anna.fast.1.001,", "anna.fast.1.999,", "breaks the contract: unknown_reference"),
    ],
)
def test_every_row_of_a_long_table_is_checked(
    long: tuple[Path, set[str]], tmp_path: Path, old: str, new: str, says: str
) -> None:
    folder, _ = long
    drawn = tmp_path / "drawn"
    assert compiled_problems(folder, view({"measurements"}), drawn) == []
    path = folder / "data" / "measurements.csv"
    first, *rest = path.read_text(encoding="utf-8").splitlines(keepends=True)
    assert any(old in line for line in rest)
    place = next(number for number, line in enumerate(rest) if old in line)
    rest[place] = rest[place].replace(old, new)
    path.write_text("".join([first, *rest]), encoding="utf-8")
    found = compiled_problems(folder, view({"measurements"}), tmp_path / "none")
    assert any(says in text for text in found)
    assert compiled_problems(folder, view(set()), tmp_path / "none") == []
    assert (drawn.is_dir(), (tmp_path / "none").exists()) == (True, False)


def test_the_check_of_every_row_draws_the_sample_that_is_read(
    long: tuple[Path, set[str]], tmp_path: Path
) -> None:
    folder, _ = long
    descriptor = json.loads((folder / "datapackage.json").read_text(encoding="utf-8"))
    resources = {held["name"]: held for held in descriptor["resources"]}
    drawn, again = tmp_path / "drawn", tmp_path / "again"
    assert compiled_problems(folder, view({"runs", "measurements"}), drawn) == []
    before = hashes_below(drawn)
    found = write_samples(folder, drawn, resources, ["runs", "measurements"])
    assert found == write_samples(folder, again, resources, ["runs", "measurements"])
    assert hashes_below(drawn) == hashes_below(again)
    assert before.items() <= hashes_below(again).items()
    assert sorted(before) == ["data/measurements.csv", "data/runs.csv"]
