"""What the statistics came to is remembered for the same runs, and for no others."""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest

from rigledger import remembered as remembered_module
from rigledger.remembered import Remembered
from rigledger.tables import analysis
from rigledger.tables.build import build_tables

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from conftest import Ledger

TABLES = ("cells", "comparisons", "repeatability", "spread_models")
Rows = dict[str, list[tuple[Any, ...]]]


@pytest.fixture
def analysed(monkeypatch: pytest.MonkeyPatch) -> list[tuple[str, str]]:
    """Contributors and metrics that were analysed."""
    done: list[tuple[str, str]] = []
    analyse = analysis._analyse

    def counted(part: analysis.Part, *words: Any) -> object:  # noqa: ANN401
        done.append((part.contributor, part.metric))
        return analyse(part, *words)

    monkeypatch.setattr(analysis, "_analyse", counted)
    monkeypatch.setattr("rigledger.remembered._IN_PROCESS", OrderedDict())
    return done


@pytest.fixture
def build(tmp_path: Path) -> Callable[[Ledger], Rows]:
    """Give a function that builds tables as a process of its own would."""

    def built(ledger: Ledger) -> Rows:
        remembered = Remembered(tmp_path / "statistics.json")
        ledger.build()
        build_tables(
            ledger.con, ledger.design, ledger.contract, tables=TABLES, remembered=remembered
        )
        remembered.keep()
        return {name: ledger.con.execute(f"from {name}").fetchall() for name in TABLES}

    return built


@pytest.fixture
def two(ledger: Ledger) -> Ledger:
    """Two contributors who each measured two workloads at both levels, the second in one boot."""
    for rig in ("anna.box", "ben.box"):
        ledger.rig(rig)
        for boot in (1, 2) if rig == "anna.box" else (1,):
            session = ledger.session(rig, boot)
            for workload, level, at in (
                ("dawn", "off", 100.0), ("dawn", "on", 98.0), ("mist", "off", 60.0),
                ("mist", "on", 61.0),
            ):  # fmt: skip
                ledger.cell(session, workload, level, [at - 0.31, at + 0.17 + boot / 10, at])
    return ledger


def test_the_next_time_nobody_is_analysed_and_the_tables_are_the_same_to_the_last_bit(
    two: Ledger, build: Callable[[Ledger], Rows], analysed: list[tuple[str, str]]
) -> None:
    first = build(two)
    assert analysed == [("anna", "average_fps"), ("ben", "average_fps")]
    assert all(first.values())
    remembered_module._IN_PROCESS.clear()
    assert build(two) == first
    assert len(analysed) == 2


def test_whose_runs_changed_is_analysed_again_and_nobody_else(
    two: Ledger, build: Callable[[Ledger], Rows], analysed: list[tuple[str, str]]
) -> None:
    build(two)
    analysed.clear()
    two.rows["measurements"][-1]["value"] += 0.5
    changed = build(two)
    assert analysed == [("ben", "average_fps")]
    two.build()
    build_tables(two.con, two.design, two.contract, tables=TABLES)
    assert changed == {name: two.con.execute(f"from {name}").fetchall() for name in TABLES}


def test_what_the_study_declares_counts(
    two: Ledger, build: Callable[[Ledger], Rows], analysed: list[tuple[str, str]]
) -> None:
    build(two)
    analysed.clear()
    two.design = replace(two.design, material_change_pct=5.0)
    build(two)
    assert len(analysed) == 2
