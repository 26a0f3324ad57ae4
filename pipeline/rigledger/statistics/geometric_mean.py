"""The geometric-mean change over a named set of titles, with two different intervals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import stats

from rigledger.statistics.checks import finite, one_dimensional, positive, probability, same_shape
from rigledger.statistics.errors import OutOfRangeError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray


@dataclass(frozen=True)
class Interval:
    """A two-sided interval, in the unit that its owner states."""

    lower: float
    upper: float


@dataclass(frozen=True)
class OverallChange:
    """A geometric-mean change over titles, everything in percent.

    Attributes:
        titles: number of titles.
        change_pct: the geometric-mean change.
        these_titles: what repeating the same titles would give: their own uncertainties only.
        titles_like_these: what other titles of the same kind would give on average: t interval
            over titles, which contains the spread between titles. None for one title, which
            says nothing about others.
        between_titles_sd_pct: standard deviation of the titles' ln changes, as a percentage;
            None for one title.
    """

    titles: int
    change_pct: float
    these_titles: Interval
    titles_like_these: Interval | None
    between_titles_sd_pct: float | None


def geometric_mean(values: ArrayLike) -> float:
    """Returns the geometric mean of values above zero.

    The only mean of ratios that does not depend on which side is the reference: Fleming PJ,
    Wallace JJ (1986), How not to lie with statistics: the correct way to summarize benchmark
    results, Commun ACM 29(3):218-221.

    Args:
        values: one dimension, any unit, all above zero.

    Raises:
        TooFewValuesError: no value given.
        NotFiniteError, OutOfRangeError: a value is NaN, infinite, or not above zero.
    """
    logs = np.log(positive(finite(values, "values", at_least=1), "values"))
    return float(np.exp(logs.mean()))


def overall_change(
    changes: ArrayLike,
    standard_errors: ArrayLike,
    degrees_of_freedom: ArrayLike = np.inf,
    *,
    level: float = 0.95,
) -> OverallChange:
    """Returns the geometric-mean change over titles and its two intervals.

    The interval for *these* titles combines their own variances (Satterthwaite FE (1946),
    Biometrics Bull 2(6):110-114, for the degrees of freedom). The interval for *titles like
    these* is Student's over titles; each title's own error is part of the spread it sees.

    Args:
        changes: ln change per title, shape (k,).
        standard_errors: its standard error per title, ln units, shape (k,); zero is allowed.
        degrees_of_freedom: of each standard error, shape (k,) or one number for all.
        level: coverage of both intervals.

    Raises:
        TooFewValuesError: no title given.
        ShapeError: the arrays do not match.
        NotFiniteError, OutOfRangeError: a number is NaN, infinite or out of range.
    """
    probability(level, "level")
    logs = one_dimensional(finite(changes, "changes", at_least=1), "changes")
    errors = finite(standard_errors, "standard errors")
    df = np.broadcast_to(
        positive(degrees_of_freedom, "degrees of freedom", or_infinite=True), logs.shape
    )
    same_shape([logs, errors], "standard errors")
    if errors.min() < 0:
        raise OutOfRangeError("standard errors", float(errors.min()), "0 or more")
    centre = float(logs.mean())
    return OverallChange(
        titles=logs.size,
        change_pct=_percent(centre),
        these_titles=_interval(centre, *_own_error(errors, df), level),
        titles_like_these=_like_these(logs, level),
        between_titles_sd_pct=None if logs.size < 2 else _percent(float(logs.std(ddof=1))),
    )


def _own_error(errors: FloatArray, df: FloatArray) -> tuple[float, float]:
    variances = (errors / errors.size) ** 2
    total = float(variances.sum())
    doubt = float((variances**2 / df).sum())
    return total**0.5, total**2 / doubt if doubt > 0 else np.inf


def _like_these(logs: FloatArray, level: float) -> Interval | None:
    if logs.size < 2:
        return None
    error = float(logs.std(ddof=1)) / logs.size**0.5
    return _interval(float(logs.mean()), error, logs.size - 1, level)


def _interval(centre: float, error: float, df: float, level: float) -> Interval:
    half = float(stats.t.isf((1 - level) / 2, df)) * error
    return Interval(_percent(centre - half), _percent(centre + half))


def _percent(log_change: float) -> float:
    return 100.0 * float(np.expm1(log_change))
