"""What a cell holds, which cells are missing, and why a cell has no partner."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

    from conftest import Ledger

VALUES = Path(__file__).parents[1] / "published" / "values"
OFF = [100.0, 101.0, 99.5]


@pytest.mark.parametrize(
    ("name", "scale", "relative"),
    [
        ("lottery", 200.0, 1e-14),
        ("lew", 400.0, 1e-14),
        ("numacc2", 1.0, 1e-12),
        # Its values differ in the eighth digit: exp and ln leave eight digits of the spread.
        ("numacc1", 2e6, 2e-9),
    ],
)
def test_mean_and_spread_are_the_certified_ones(
    ledger: Ledger, name: str, scale: float, relative: float
) -> None:
    """NIST Statistical Reference Datasets, univariate (values/nist-univariate-*.toml).

    A cell works on ln value, so the data x go in as exp(x / scale).
    """
    held = tomllib.loads((VALUES / f"nist-univariate-{name}.toml").read_text(encoding="utf-8"))
    inputs, expected = held["inputs"], held["expected"]
    generator = inputs.get("generator")
    data = inputs.get("data") or [
        generator["first"],
        *generator["then_repeat"] * generator["repeats"],
    ]
    session = ledger.session("anna.one", 1)
    values = [float(np.exp(x / scale)) for x in data]
    ledger.cell(session, "dawn", "off", values, **{"pass": 1})
    found = ledger.build().select(
        "select runs, ln(geometric_mean), spread_pct from cells where runs > 0"
    )
    assert found == [
        (
            len(data),
            pytest.approx(float(expected["mean"]) / scale, rel=1e-14),
            pytest.approx(100 * float(expected["sd"]) / scale, rel=relative),
        )
    ]


def test_planned_cells_without_runs_are_listed(ledger: Ledger) -> None:
    ledger.cell(ledger.session("anna.one", 1), "dawn", "off", OFF)
    ledger.cell("anna.one.1", "rain", "on", OFF, resolution="3840x2160")
    found = ledger.build().select("""
        select workload, title_build, resolution, level, planned, runs, runs_required, no_partner
        from cells
    """)
    assert found == [
        ("dawn", "1", "1920x1080", "off", True, 3, 3, "not_measured"),
        ("rain", "1", "3840x2160", "on", False, 3, 0, "not_measured"),
        ("dawn", "unknown", "1920x1080", "on", True, 0, 3, "no_runs"),
        ("mist", "unknown", "1920x1080", "off", True, 0, 3, "no_runs"),
        ("mist", "unknown", "1920x1080", "on", True, 0, 3, "no_runs"),
        ("rain", "unknown", "1920x1080", "off", True, 0, 3, "no_runs"),
        ("rain", "unknown", "1920x1080", "on", True, 0, 3, "no_runs"),
    ]


def test_a_cell_says_why_it_has_no_partner(make_ledger: Callable[..., Ledger]) -> None:
    ledger = make_ledger('\n[[levels]]\nlevel = "forced"\ntitle = "forced"\n')
    ledger.rig("anna.one")
    first, second = ledger.session("anna.one", 1), ledger.session("anna.one", 2, driver="2.0")
    ledger.cell(first, "dawn", "off", OFF)
    ledger.cell(first, "dawn", "on", OFF)
    ledger.cell(first, "dawn", "forced", OFF)
    ledger.cell(first, "mist", "off", OFF)
    ledger.cell(first, "mist", "on", OFF, title_build="2")
    ledger.cell(first, "rain", "off", OFF)
    ledger.cell(second, "rain", "on", OFF)
    ledger.cell(first, "dawn", "on", OFF, resolution="3840x2160")
    ledger.run(
        first,
        "dawn",
        "off",
        None,
        resolution="3840x2160",
        role="not_possible",
        reason="no such mode",
    )
    found = ledger.build().select("""
        select workload, resolution, level, no_partner from cells where runs > 0
        order by workload, resolution, level
    """)
    assert found == [
        ("dawn", "1920x1080", "forced", "no_contrast"),
        ("dawn", "1920x1080", "off", None),
        ("dawn", "1920x1080", "on", None),
        ("dawn", "3840x2160", "on", "not_possible"),
        ("mist", "1920x1080", "off", "other_build"),
        ("mist", "1920x1080", "on", "other_build"),
        ("rain", "1920x1080", "off", "other_stack"),
        ("rain", "1920x1080", "on", "other_stack"),
    ]


def test_each_session_counts_once_in_the_mean_and_spread_is_pooled_within_them(
    ledger: Ledger,
) -> None:
    ledger.cell(ledger.session("anna.one", 1), "dawn", "off", [100.0, 100.0, 100.0])
    ledger.cell(ledger.session("anna.one", 2), "dawn", "off", [121.0])
    found = ledger.build().select("""
        select runs, sessions, round(geometric_mean, 9), spread_pct from cells where runs > 0
    """)
    assert found == [(4, 2, 110.0, 0.0)]


def test_one_run_has_a_mean_and_an_interval_but_no_spread_of_its_own(ledger: Ledger) -> None:
    ledger.cell(ledger.session("anna.one", 1), "dawn", "off", [100.0])
    found = ledger.build().select("""
        select geometric_mean, spread_pct, low_95 < 99.5 and high_95 > 100.5,
            moderated_spread_pct > 0
        from cells where runs > 0
    """)
    assert found == [(pytest.approx(100.0, rel=1e-14), None, True, True)]


def test_the_state_of_the_level_is_that_of_all_runs_or_mixed(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    ledger.cell(session, "dawn", "off", OFF, level_state="unknown")
    ledger.cell(session, "dawn", "on", OFF[:2])
    ledger.run(session, "dawn", "on", OFF[2], level_state="unknown")
    found = ledger.build().select("select level, level_state from cells where runs > 0")
    assert found == [("off", "unknown"), ("on", "mixed")]


def test_runs_without_a_value_of_the_cells_origin_are_counted_as_left_out(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    ledger.run(session, "dawn", "off", 90.0)
    for value in OFF:
        ledger.run(session, "dawn", "off", None, recomputed=value)
    found = ledger.build().select("select origin, runs, runs_left_out from cells where runs > 0")
    assert found == [("recomputed", 3, 1)]


def test_recomputed_values_go_before_reported_ones(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    for value in OFF:
        ledger.run(session, "dawn", "off", 10.0, recomputed=value)
    found = ledger.build().select("""
        select origin, round(geometric_mean), runs_left_out from cells where runs > 0
    """)
    assert found == [("recomputed", 100.0, 0)]


def test_a_spoiled_run_is_flagged_and_still_counts(ledger: Ledger) -> None:
    session = ledger.session("anna.one", 1)
    for workload in ("dawn", "mist", "rain"):
        for level in ("off", "on"):
            ledger.cell(session, workload, level, OFF)
    spoiled = ledger.run(session, "dawn", "on", 60.0)
    ledger.build()
    assert [("dawn", "on", 4, 1)] == ledger.select(
        "select workload, level, runs, doubtful_runs from cells where doubtful_runs > 0"
    )
    assert [(spoiled, "average_fps")] == ledger.select(
        "select run, doubtful_in from runs_wide where doubtful_in is not null"
    )
