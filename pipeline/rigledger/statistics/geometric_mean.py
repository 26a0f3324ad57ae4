"""The geometric-mean change over a named set of titles, with two different intervals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.checks import finite, one_dimensional, positive, probability, same_shape
from rigledger.statistics.errors import OutOfRangeError, ShapeError
from rigledger.statistics.laws import student_upper

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
            over titles, which contains the spread between titles; never narrower than
            `these_titles`. None for one title, which says nothing about others.
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
    session_covariance: ArrayLike | None = None,
    level: float = 0.95,
) -> OverallChange:
    """Returns the geometric-mean change over titles and its two intervals.

    The interval for *these* titles combines their own variances (Satterthwaite FE (1946),
    Biometrics Bull 2(6):110-114, for the degrees of freedom). The interval for *titles like
    these* is Student's over titles; each title's own error is part of the spread it sees. Where
    titles happen to agree better than their own errors allow, the own errors are taken.

    A boot that moves all titles of a session at once is no part of the spread between them and
    doesn't average out: both intervals take it from `session_covariance`. How large it is rests on
    one estimate for all titles, so its degrees of freedom don't add up.

    Args:
        changes: ln change per title, shape (k,).
        standard_errors: its standard error per title, ln units, shape (k,); zero is allowed.
        degrees_of_freedom: of each standard error, shape (k,) or one number for all.
        session_covariance: the part of the errors that comes from sessions, shape (k, k): on the
            diagonal each title's variance from sessions, which its standard error contains; off
            it what two titles have in common. None: no such part.
        level: coverage of both intervals.

    Raises:
        TooFewValuesError: no title given.
        ShapeError: the arrays do not match.
        NotFiniteError, OutOfRangeError: a number is NaN, infinite or out of range.
    """
    probability(level, "level")
    titles = _titles(changes, standard_errors, degrees_of_freedom, session_covariance)
    logs = titles.changes
    centre, these = float(logs.mean()), _half_width(_own_error(titles), level)
    like = None
    if logs.size > 1:
        widest = max(these, _half_width(_error_over_titles(titles), level))
        like = _interval(centre, widest)
    return OverallChange(
        titles=logs.size,
        change_pct=_percent(centre),
        these_titles=_interval(centre, these),
        titles_like_these=like,
        between_titles_sd_pct=None if logs.size < 2 else _percent(float(logs.std(ddof=1))),
    )


@dataclass(frozen=True)
class _Titles:
    changes: FloatArray
    variances: FloatArray
    df: FloatArray
    sessions: FloatArray


@dataclass(frozen=True)
class _Error:
    """A variance and its degrees of freedom."""

    variance: float
    df: float


def _titles(
    changes: ArrayLike,
    standard_errors: ArrayLike,
    degrees_of_freedom: ArrayLike,
    session_covariance: ArrayLike | None,
) -> _Titles:
    logs = one_dimensional(finite(changes, "changes", at_least=1), "changes")
    errors = finite(standard_errors, "standard errors")
    df = positive(degrees_of_freedom, "degrees of freedom", or_infinite=True)
    same_shape([logs, errors], "standard errors")
    if errors.min() < 0:
        raise OutOfRangeError("standard errors", float(errors.min()), "0 or more")
    sessions = np.zeros((logs.size, logs.size))
    if session_covariance is not None:
        sessions = finite(session_covariance, "session covariance")
    if sessions.shape != (logs.size, logs.size):
        raise ShapeError("session covariance", sessions.shape, "titles by titles")
    if sessions.min() < 0:
        raise OutOfRangeError("session covariance", float(sessions.min()), "0 or more")
    return _Titles(logs, errors**2, np.broadcast_to(df, logs.shape), sessions)


def _own_error(titles: _Titles) -> _Error:
    """Error of the mean over exactly these titles: runs add up independently, sessions don't."""
    k = titles.changes.size
    from_sessions = titles.sessions.sum(axis=1)
    from_runs = np.maximum(titles.variances - np.diagonal(titles.sessions), 0.0)
    return _combined(from_runs / k**2, from_sessions / k**2, titles.df)


def _error_over_titles(titles: _Titles) -> _Error:
    """Error of the mean over titles like these: what is common to all enters beside their spread.

    The spread between k titles lacks what they have in common, of which the mean has all.
    """
    k = titles.changes.size
    common = titles.sessions.sum(axis=1) - np.diagonal(titles.sessions)
    own = float(titles.changes.var(ddof=1)) / k
    whole = _combined(np.zeros(k), common / (k * (k - 1)), titles.df)
    doubt = own**2 / (k - 1) + whole.variance**2 / whole.df
    variance = own + whole.variance
    return _Error(variance, variance**2 / doubt if doubt > 0 else np.inf)


def _combined(independent: FloatArray, dependent: FloatArray, df: FloatArray) -> _Error:
    """Satterthwaite's degrees of freedom; dependent estimates err together."""
    variance = float(independent.sum() + dependent.sum())
    doubt = float((independent**2 / df).sum() + (dependent / np.sqrt(df)).sum() ** 2)
    return _Error(variance, variance**2 / doubt if doubt > 0 else np.inf)


def _half_width(error: _Error, level: float) -> float:
    return float(student_upper((1 - level) / 2, error.df) * np.sqrt(error.variance))


def _interval(centre: float, half: float) -> Interval:
    return Interval(_percent(centre - half), _percent(centre + half))


def _percent(log_change: float) -> float:
    # The interval of a hopelessly noisy title stays a finite number, however large.
    return 100.0 * float(np.expm1(min(log_change, 700.0)))
