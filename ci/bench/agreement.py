"""How often agreement is questioned where nothing differs, and how often pooled intervals hold.

    python ci/bench/agreement.py [--quick]

Simulated contributors measure one change in many cells. Each reports an interval from few degrees
of freedom, as the tables do; contributors differ truly by a stated spread. Printed: false flags of
pairwise rows and of h, k and robust z beside the rate they are held to; coverage of the pooled
interval and of the interval of one more contributor; and, as the baseline in the same run, the
pooling by DerSimonian and Laird with the ordinary standard error and the normal law.
"""

from __future__ import annotations

import sys

import numpy as np
import polars as pl
from scipy import stats

from rigledger.statistics.multiplicity import benjamini_hochberg
from rigledger.statistics.random_effects import Pooled, pool
from rigledger.statistics.small_sample import matched_student
from rigledger.tables.agreement import Q, difference_test, judge_circle
from rigledger.tables.pooling import pool_changes

CELLS = 24
ERROR = 0.008  # standard error of a change, ln units: three runs a cell at 1 % spread
DF = 8.0
MATERIAL_PCT = 3.0
BETWEEN = 0.01  # true standard deviation between contributors
MOST_FALSE_STUDIES = 0.05
MOST_FALSE_CIRCLE = 0.02
# The interval of one more contributor is known to fall short of 95 % where the true differences are
# no larger than the errors, because they are then often estimated as none; the schema says so.
LEAST = {"mean of the contributors": 0.935, "one more contributor": 0.90}

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


def coverage(
    rng: np.random.Generator, studies: int, contributors: int, *, plain: bool
) -> tuple[float, float]:
    """Share of pooled intervals that hold the mean, and of those for one more that hold it."""
    held = predicted = 0
    for _ in range(studies):
        change, variance = changes(rng, (contributors,), BETWEEN)
        matched, _ = matched_student(*halves(variance))
        found = plain_law(change, matched) if plain else pool_changes(change, matched)
        held += found.lower <= 0 <= found.upper
        low, high = found.prediction or (-np.inf, np.inf)
        predicted += low <= BETWEEN * rng.standard_normal() <= high
    return held / studies, predicted / studies


def plain_law(change: np.ndarray, variance: np.ndarray) -> Pooled:
    """Pool with the ordinary standard error and the normal law."""
    return pool(change, variance, estimator="DL", hartung_knapp=False, prediction_kind="normal")


def line(name: str, value: float, bound: str, *, good: bool) -> bool:
    """Print a figure beside what it is held to."""
    print(f"  {name:<58} {100 * value:6.2f} %   {bound}{'' if good else '   SHORT'}")
    return good


def main(quick: bool) -> int:
    """Print the figures; exit code 1 where one falls short."""
    studies = 400 if quick else 4000
    rng = np.random.default_rng(20_261_125)
    room = 2 * (0.05 / studies) ** 0.5
    print(f"{studies} simulated studies of {CELLS} cells; errors of {100 * ERROR} %, {DF:g} df")
    rate = false_studies(rng, studies)
    extra = 2 * (MOST_FALSE_STUDIES * (1 - MOST_FALSE_STUDIES) / studies) ** 0.5
    good = line(
        "studies of a pair that agrees, with any flag", rate, "at most 5 %",
        good=rate <= MOST_FALSE_STUDIES + extra,
    )  # fmt: skip
    rate = false_circle(rng, studies)
    good &= line(
        "contributors that agree, flagged by h, k or z", rate, "at most 2 %",
        good=rate <= MOST_FALSE_CIRCLE,
    )  # fmt: skip
    for contributors in (3, 6, 12):
        ours = coverage(rng, studies, contributors, plain=False)
        rival = coverage(rng, studies, contributors, plain=True)
        for (name, least), value, other in zip(LEAST.items(), ours, rival, strict=True):
            good &= line(
                f"{name}, {contributors} contributors, covered", value,
                f"95 %, at least {100 * (least - room):.1f}; normal law {100 * other:.1f}",
                good=value >= least - room,
            )  # fmt: skip
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main("--quick" in sys.argv[1:]))
