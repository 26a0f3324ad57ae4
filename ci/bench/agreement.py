"""How often agreement is questioned where nothing differs, and how often pooled intervals hold.

    python ci/bench/agreement.py [--quick] [--json FILE]

Simulated contributors measure one change in many cells. Each reports an interval from few degrees
of freedom, as the tables do; contributors differ truly by a stated spread. Printed: false flags of
pairwise rows and of h, k and robust z beside the rate they are held to; coverage of the pooled
interval and, as the baseline in the same run, of pooling by DerSimonian and Laird with the ordinary
standard error and the normal law; coverage of the interval for what one more contributor measures,
with that contributor's true change and the usual interval from tau2 beside it.
"""

from __future__ import annotations

import sys

import numpy as np
import polars as pl
from results import Figure, Results, asked
from scipy import stats

from rigledger.statistics.multiplicity import benjamini_hochberg
from rigledger.statistics.random_effects import Pooled, next_measured, pool
from rigledger.statistics.small_sample import matched_student
from rigledger.tables.agreement import Q, difference_test, judge_circle
from rigledger.tables.pooling import pool_changes

CELLS = 24
ERROR = 0.008  # standard error of a change, ln units: three runs a cell at 1 % spread
DF = 8.0
MATERIAL_PCT = 3.0
BETWEENS = (0.002, 0.01, 0.04)  # true standard deviation between contributors, ln units
CONTRIBUTORS = (3, 4, 6, 12)
MOST_FALSE_STUDIES = 0.05
MOST_FALSE_CIRCLE = 0.02
LEAST_MEAN = 0.94
LEAST_NEXT = 0.94

Draws = tuple[np.ndarray, np.ndarray]


def changes(rng: np.random.Generator, size: tuple[int, ...], between: float) -> Draws:
    """Draw changes about zero, each with the variance that its contributor estimated."""
    true = between * rng.standard_normal(size)
    scale = rng.chisquare(DF, size) / DF
    return true + ERROR * rng.standard_normal(size), (ERROR**2) * scale


def halves(variance: np.ndarray) -> Draws:
    """Give the half-widths of the 90 % and the 95 % interval that a table would hold."""
    error = np.sqrt(variance)
    return error * stats.t.isf(0.05, DF), error * stats.t.isf(0.025, DF)


def false_studies(rng: np.random.Generator, studies: int) -> float:
    """Share of studies of two contributors who agree in which any cell is flagged."""
    flagged = 0
    for _ in range(studies):
        change, variance = changes(rng, (2, CELLS), 0.0)
        spread = [matched_student(*halves(part)) for part in variance]
        difference = change[0] - change[1]
        _, p = difference_test(
            difference, (spread[0][0], spread[1][0]), (spread[0][1], spread[1][1])
        )
        beyond = np.abs(100 * np.expm1(difference)) > MATERIAL_PCT
        flagged += bool(((benjamini_hochberg(p) < Q) & beyond).any())
    return flagged / studies


def false_circle(rng: np.random.Generator, studies: int, contributors: int = 8) -> float:
    """Rate at which one of several contributors is flagged by h, k or robust z."""
    flagged = 0
    for _ in range(studies):
        change, variance = changes(rng, (contributors,), 0.003)
        narrow, wide = halves(variance)
        part = pl.DataFrame(
            {
                "counted_as": [f"c{number}" for number in range(contributors)],
                "ln_change": change, "ln_half_90": narrow, "ln_half_95": wide,
                "spread_pct": np.sqrt(rng.chisquare(4, contributors) / 4),
                "spread_df": np.full(contributors, 4.0),
            }
        )  # fmt: skip
        flagged += int(judge_circle(part, MATERIAL_PCT)["flagged"].sum())
    return flagged / (studies * contributors)


def mean_coverage(
    rng: np.random.Generator, studies: int, contributors: int
) -> tuple[float, float, float]:
    """Share of pooled intervals that hold the mean, of plain ones, and of predictions by tau2."""
    held = np.zeros(3)
    between = BETWEENS[1]
    for _ in range(studies):
        change, variance = changes(rng, (contributors,), between)
        matched, _ = matched_student(*halves(variance))
        ours, plain = pool_changes(change, matched), plain_law(change, matched)
        low, high = ours.prediction or (-np.inf, np.inf)
        held += (
            ours.lower <= 0 <= ours.upper,
            plain.lower <= 0 <= plain.upper,
            low <= between * rng.standard_normal() <= high,
        )
    mean, normal, prediction = held / studies
    return float(mean), float(normal), float(prediction)


def next_coverage(
    rng: np.random.Generator, studies: int, contributors: int, between: float
) -> tuple[float, float]:
    """Share of intervals for one more contributor that hold what is measured, and what is true."""
    held = np.zeros(2)
    for _ in range(studies):
        change, variance = changes(rng, (contributors,), between)
        matched, _ = matched_student(*halves(variance))
        low, high = next_measured(change, matched)
        true = between * rng.standard_normal()
        held += (low <= true + ERROR * rng.standard_normal() <= high, low <= true <= high)
    measured, truly = held / studies
    return float(measured), float(truly)


def plain_law(change: np.ndarray, variance: np.ndarray) -> Pooled:
    """Pool with the ordinary standard error and the normal law."""
    return pool(change, variance, estimator="DL", hartung_knapp=False, prediction_kind="normal")


def line(results: Results, figure: Figure, bound: str, *others: Figure) -> None:
    """Keep a figure and others that belong to it; print it beside what they are held to."""
    kept = [results.keep(held) for held in (figure, *others)]
    short = "" if all(kept) else "   SHORT"
    print(f"  {figure.name:<58} {100 * figure.value:6.2f} %   {bound}{short}")


def main() -> int:
    """Print the figures; exit code 1 where one falls short."""
    given = asked(__doc__, "a tenth of the studies")
    results = Results("agreement", given.quick)
    studies = 400 if given.quick else 4000
    rng = np.random.default_rng(20_261_125)
    print(f"{studies} simulated studies of {CELLS} cells; errors of {100 * ERROR} %, {DF:g} df")
    false_flags(results, rng, studies)
    for contributors in CONTRIBUTORS:
        covered(results, rng, studies, contributors)
    return results.close(given.json)


def false_flags(results: Results, rng: np.random.Generator, studies: int) -> None:
    """Print how often something is flagged where all agree."""
    rate = false_studies(rng, studies)
    room = 2 * (MOST_FALSE_STUDIES * (1 - MOST_FALSE_STUDIES) / studies) ** 0.5
    name = "studies of a pair that agrees, with any flag"
    line(results, Figure(name, rate, "share", MOST_FALSE_STUDIES, room=room), "at most 5 %")
    rate = false_circle(rng, studies)
    name = "contributors that agree, flagged by h, k or z"
    line(results, Figure(name, rate, "share", MOST_FALSE_CIRCLE), "at most 2 %")


def covered(results: Results, rng: np.random.Generator, studies: int, contributors: int) -> None:
    """Print how often the intervals of so many contributors hold what they should."""
    room = 2 * (0.05 / studies) ** 0.5
    ours, normal, prediction = mean_coverage(rng, studies, contributors)
    name = f"mean of {contributors} contributors, covered"
    line(
        results,
        Figure(name, ours, "share", least=LEAST_MEAN, room=room),
        f"95 %, at least {100 * (LEAST_MEAN - room):.1f}; normal law {100 * normal:.1f}; "
        f"one more, true, by tau2 {100 * prediction:.1f}",
    )
    for between in BETWEENS:
        measured, truly = next_coverage(rng, studies, contributors, between)
        name = f"one more, {contributors} contributors {100 * between:g} % apart, covered"
        line(
            results,
            Figure(name, measured, "share", least=LEAST_NEXT, room=room),
            f"95 %, at least {100 * (LEAST_NEXT - room):.1f}; true change {100 * truly:.1f}",
            Figure(f"{name}, true change", truly, "share", least=LEAST_NEXT, room=room),
        )


if __name__ == "__main__":
    sys.exit(main())
