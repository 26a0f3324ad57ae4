"""A fit is made once for the same runs, cells and priors, and anew for any others."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from rigledger.statistics import comparisons, known_fits
from rigledger.statistics.comparisons import (
    CellArrays,
    PairArrays,
    RunArrays,
    Settings,
    SpreadPrior,
    analyse,
)
from rigledger.statistics.known_fits import forget_fits

RUNS = RunArrays(
    value=np.array([100.0, 101.0, 99.5, 90.0, 91.0, 90.5]),
    cell=np.repeat([0, 1], 3),
    session=np.zeros(6, np.int64),
    round=np.zeros(6, np.int64),
    pass_index=np.full(6, -1),
    reported_step=np.full(6, 0.1),
)
CELLS = CellArrays({"level": np.array([0, 1])}, np.zeros(2, bool))
PAIRS = PairArrays(np.array([0]), np.array([1]))


@pytest.fixture
def made(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Count the fits that are made, beginning with none known."""
    fits: list[str] = []
    make = comparisons._fit

    def counting(*given: object) -> object:
        fits.append("made")
        return make(*given)  # type: ignore[arg-type]

    monkeypatch.setattr(comparisons, "_fit", counting)
    forget_fits()
    return fits


def test_the_same_runs_in_another_order_are_fitted_once_with_the_same_result(
    made: list[str],
) -> None:
    order = np.array([5, 0, 3, 1, 4, 2])
    turned = RunArrays(**{name: held[order] for name, held in vars(RUNS).items()})
    first, again = (repr(analyse(held, CELLS, PAIRS, Settings())) for held in (RUNS, turned))
    assert (made, first == again) == (["made"], True)


def test_what_the_fit_does_not_follow_from_makes_no_new_one(made: list[str]) -> None:
    for settings in (Settings(), Settings(material_change_pct=5.0, rounds_declared=2)):
        analyse(RUNS, CELLS, PAIRS, settings)
    assert made == ["made"]


@pytest.mark.parametrize(
    ("runs", "cells", "settings"),
    [
        (replace(RUNS, value=RUNS.value + 0.1), CELLS, Settings()),
        (replace(RUNS, reported_step=np.full(6, 0.01)), CELLS, Settings()),
        (replace(RUNS, session=np.array([0, 0, 1, 0, 0, 1])), CELLS, Settings()),
        (RUNS, replace(CELLS, sentinel=np.array([False, True])), Settings()),
        (RUNS, replace(CELLS, factors={"rig": np.array([0, 1])}), Settings()),
        (RUNS, CELLS, Settings(spread_prior=SpreadPrior(median_pct=2.0))),
        (RUNS, CELLS, Settings(session_spread_pct=0.5)),
    ],
)
def test_anything_else_is_fitted_by_itself(
    made: list[str], runs: RunArrays, cells: CellArrays, settings: Settings
) -> None:
    analyse(RUNS, CELLS, PAIRS, Settings())
    found = analyse(runs, cells, PAIRS, settings)
    forget_fits()
    alone = analyse(runs, cells, PAIRS, settings)
    assert (made, repr(found)) == (["made"] * 3, repr(alone))


def test_labels_that_are_objects_are_told_apart_by_what_they_say(made: list[str]) -> None:
    for names in (("x8", "x16"), ("x8", "x16"), ("x4", "x16")):
        labels = np.array(names, dtype=object)
        analyse(RUNS, replace(CELLS, factors={"level": labels}), PAIRS, Settings())
    assert made == ["made", "made"]


def test_no_more_than_so_many_are_held_and_none_of_a_large_set(
    made: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(known_fits, "MOST_FITS", 1)
    for value in (0.0, 0.1, 0.0):
        analyse(replace(RUNS, value=RUNS.value + value), CELLS, PAIRS, Settings())
    assert made == ["made"] * 3
    monkeypatch.setattr(known_fits, "MOST_RUNS", 5)
    analyse(RUNS, CELLS, PAIRS, Settings())
    assert made == ["made"] * 4
