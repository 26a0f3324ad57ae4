# ruff: noqa: ANN001, ANN201, S105 - fixtures are known by their names
"""Patterns over many runs: named where they are planted, silent where there are none."""

from __future__ import annotations

import random

import pytest
from scipy.stats import binom

from rigledger.intake.check import check_set
from rigledger.intake.patterns import binomial_tail

PATTERNS = {"warm_up", "drift", "last_digits"}


@pytest.mark.parametrize(
    ("hits", "trials", "chance"),
    [
        (0, 10, 1 / 3),
        (9, 10, 1 / 3),
        (40, 100, 1 / 10),
        (300, 500, 1 / 2),
        (200, 500, 1 / 2),
        (33_900, 333_000, 1 / 10),
    ],
)
def test_the_binomial_tail_is_that_of_a_reference_library(hits, trials, chance):
    wanted = binom.sf(hits - 1, trials, chance)
    assert binomial_tail(hits, trials, chance) == pytest.approx(wanted, rel=1e-9)


@pytest.fixture
def many_cells(made):
    """Forty cells a level: the clean set's workload at forty resolutions, three passes each."""
    draw = random.Random(7)  # noqa: S311 - a simulation
    template = made.runs[0]
    made.runs = []
    for session, level in (("1", "x16"), ("2", "x8")):
        for number in range(120):
            mean = 90 + 1.37 * (number % 40)
            made.runs.append(
                template
                | {
                    "session": session,
                    "level": level,
                    "run": f"{number + 1:03}",
                    "resolution": f"{1000 + number % 40}x1000",
                    "pass": str(number // 40 + 1),
                    "average_fps": f"{mean * (1 + draw.gauss(0, 0.01)):.1f}",
                    "low_1pct_rank_fps": f"{mean * (0.7 + draw.gauss(0, 0.01)):.1f}",
                }
            )
    return made


def found(made, study):
    return PATTERNS & {finding.rule for finding in check_set(made.write(), study).findings}


def scale(run, factor):
    run["average_fps"] = f"{float(run['average_fps']) * factor:.1f}"


def test_a_set_without_a_pattern_is_left_alone(many_cells, study):
    assert found(many_cells, study) == set()


def test_first_passes_that_are_slower_throughout_are_named(many_cells, study):
    for run in many_cells.runs:
        if run["pass"] == "1":
            scale(run, 0.96)
    assert "warm_up" in found(many_cells, study)


def test_a_session_that_slows_down_is_named_and_the_other_is_not(many_cells, study):
    for run in many_cells.runs:
        if run["session"] == "2":
            scale(run, 1 - 0.02 * int(run["pass"]))
    result = check_set(many_cells.write(), study)
    named = [finding.reason for finding in result.findings if finding.rule == "drift"]
    assert len(named) == 1
    assert "session 2" in named[0]


def test_values_that_end_in_one_digit_too_often_are_named(many_cells, study):
    for number, run in enumerate(many_cells.runs):
        if number % 2:
            run["average_fps"] = f"{round(float(run['average_fps'])) + 0.5:.1f}"
    assert "last_digits" in found(many_cells, study)
