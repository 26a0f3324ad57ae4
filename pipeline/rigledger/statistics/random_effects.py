"""Random effects over contributors: how far the same change varies from one to the next."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Literal, assert_never

import numpy as np

from rigledger.statistics.checks import finite, one_dimensional, positive, probability, same_shape
from rigledger.statistics.errors import StatisticsError
from rigledger.statistics.laws import chi_square_tail, chi_square_upper, student_tail, student_upper

if TYPE_CHECKING:
    from numpy.typing import ArrayLike

    from rigledger.statistics.checks import FloatArray

Estimator = Literal["equal_effects", "DL", "PM", "REML", "ML"]
PredictionKind = Literal["normal", "t_k_minus_1", "t_k_minus_2"]


class NoConvergenceError(StatisticsError):
    """An iterative estimator did not settle."""

    code: ClassVar[str] = "no_convergence"


@dataclass(frozen=True)
class Heterogeneity:
    """Whether the effects differ by more than their own errors: Cochran's Q.

    Attributes:
        q: weighted sum of squares about the weighted mean.
        df: its degrees of freedom.
        p: upper tail of chi-square; far too small when variances rest on few runs.
    """

    q: float
    df: int
    p: float


@dataclass(frozen=True)
class Pooled:
    """A pooled effect, in the unit of the effects (ln change).

    Attributes:
        estimator: how tau2 was estimated.
        hartung_knapp: whether the standard error is Hartung and Knapp's, with t(k - 1).
        effects: number of effects k.
        tau2: variance of the true effects between contributors.
        mean: weighted mean effect.
        standard_error: of the mean.
        statistic: mean / standard_error, z or t.
        p: two-sided.
        lower: of the interval of the mean.
        upper: of the interval of the mean.
        i2_pct: share of the variance that lies between contributors.
        h2: total over sampling variance.
        prediction_kind: normal quantile with the standard error of the mean, or Student's t
            with k - 1 or k - 2 degrees of freedom.
        prediction: interval for the true effect of one more contributor; None where its
            kind is not defined (t with k - 2 below three effects).
    """

    estimator: Estimator
    hartung_knapp: bool
    effects: int
    tau2: float
    mean: float
    standard_error: float
    statistic: float
    p: float
    lower: float
    upper: float
    i2_pct: float
    h2: float
    prediction_kind: PredictionKind
    prediction: tuple[float, float] | None


def heterogeneity(effects: ArrayLike, variances: ArrayLike) -> Heterogeneity:
    """Returns Cochran's Q (Cochran WG (1954), Biometrics 10(1):101-129).

    Args:
        effects: shape (k,), k at least 2.
        variances: their sampling variances, shape (k,).

    Raises:
        TooFewValuesError, ShapeError, NotFiniteError, OutOfRangeError: as they say.
    """
    y, v = _effects(effects, variances)
    q = _q(y, v, 0.0)
    return Heterogeneity(q, y.size - 1, float(chi_square_tail(q, y.size - 1)))


def tau2(effects: ArrayLike, variances: ArrayLike, estimator: Estimator) -> float:
    """Returns the estimated variance of the true effects, never below zero.

    DL: DerSimonian R, Laird N (1986), Control Clin Trials 7(3):177-188. PM: Paule RC, Mandel J
    (1982), J Res Natl Bur Stand 87(5):377-385. REML and ML: Fisher scoring as in Viechtbauer W
    (2005), J Educ Behav Stat 30(3):261-293.

    Args:
        effects: shape (k,), k at least 2.
        variances: their sampling variances, shape (k,).
        estimator: which one.

    Raises:
        TooFewValuesError, ShapeError, NotFiniteError, OutOfRangeError: as they say.
        NoConvergenceError: the likelihood's iteration did not settle.
    """
    y, v = _effects(effects, variances)
    match estimator:
        case "equal_effects":
            return 0.0
        case "DL":
            return max(0.0, (_q(y, v, 0.0) - (y.size - 1)) / _spare_weight(1 / v))
        case "PM":
            return _solve_q(y, v, y.size - 1)
        case "REML" | "ML":
            return _scoring(y, v, restricted=estimator == "REML")
        case _:
            assert_never(estimator)


def pool(
    effects: ArrayLike,
    variances: ArrayLike,
    *,
    estimator: Estimator = "REML",
    hartung_knapp: bool = True,
    never_narrower: bool = False,
    prediction_kind: PredictionKind = "t_k_minus_1",
    level: float = 0.95,
) -> Pooled:
    """Returns the pooled effect with its interval and the prediction interval.

    Hartung J, Knapp G (2001), Stat Med 20(24):3875-3889 (variance scaled by the weighted mean
    square, not truncated at 1). Prediction interval: mean -+ q * sqrt(tau2 + se^2), with q as
    ``prediction_kind`` says; t(k - 2) is Higgins JPT, Thompson SG, Spiegelhalter DJ (2009),
    J R Stat Soc A 172(1):137-159.

    Args:
        effects: shape (k,), k at least 2.
        variances: their sampling variances, shape (k,).
        estimator: of tau2.
        hartung_knapp: use the Hartung-Knapp standard error and t(k - 1), else the normal law.
        never_narrower: keep that standard error from falling below the ordinary one, as it does
            when a few effects happen to agree (two equal ones would have an interval of width
            zero): Roever C, Knapp G, Friede T (2015), BMC Med Res Methodol 15:99. Tables use it.
        prediction_kind: the quantile of the prediction interval.
        level: coverage of both intervals.

    Raises:
        TooFewValuesError, ShapeError, NotFiniteError, OutOfRangeError, NoConvergenceError.
    """
    probability(level, "level")
    y, v = _effects(effects, variances)
    between = tau2(y, v, estimator)
    mean, error = _mean(y, v, between)
    if hartung_knapp:
        scale = (_q(y, v, between) / (y.size - 1)) ** 0.5
        error *= max(scale, 1.0) if never_narrower else scale
    df = y.size - 1 if hartung_knapp else np.inf
    half = float(student_upper((1 - level) / 2, df)) * error
    statistic, typical = _ratio(mean, error), _typical_variance(v)
    return Pooled(
        estimator=estimator,
        hartung_knapp=hartung_knapp,
        effects=y.size,
        tau2=between,
        mean=mean,
        standard_error=error,
        statistic=statistic,
        p=2 * float(student_tail(abs(statistic), df)),
        lower=mean - half,
        upper=mean + half,
        i2_pct=100 * between / (between + typical),
        h2=(between + typical) / typical,
        prediction_kind=prediction_kind,
        prediction=_prediction(mean, between + error**2, y.size, prediction_kind, level),
    )


def next_measured(
    effects: ArrayLike, variances: ArrayLike, *, level: float = 0.95
) -> tuple[float, float]:
    """Returns the interval for the effect that one more contributor would measure.

    mean -+ t(k - 1) * s * sqrt(1 + 1/k), the prediction interval of one further normal observation
    (Hahn GJ, Meeker WQ (1991), Statistical Intervals, section 4.7; cited from memory). A measured
    effect brings an error of its own, so the standard deviation s of the measured ones is what
    counts, and no estimate of tau2 is needed: intervals for the *true* effect that rest on one
    (`pool`) hold 85 to 95 of 100 where errors are as large as the differences. s is not taken below
    the mean error, which it falls below when a few effects happen to agree.

    Args:
        effects: shape (k,), k at least 2.
        variances: their sampling variances, shape (k,).
        level: coverage.

    Raises:
        TooFewValuesError, ShapeError, NotFiniteError, OutOfRangeError: as they say.
    """
    probability(level, "level")
    y, v = _effects(effects, variances)
    spread = max(float(y.var(ddof=1)), float(v.mean()))
    half = float(student_upper((1 - level) / 2, y.size - 1)) * (spread * (1 + 1 / y.size)) ** 0.5
    return float(y.mean()) - half, float(y.mean()) + half


def tau2_interval(
    effects: ArrayLike, variances: ArrayLike, *, level: float = 0.95
) -> tuple[float, float]:
    """Returns the Q-profile interval of tau2 (Viechtbauer W (2007), Stat Med 26(1):37-52).

    Args:
        effects: shape (k,), k at least 2.
        variances: their sampling variances, shape (k,).
        level: coverage.

    Raises:
        TooFewValuesError, ShapeError, NotFiniteError, OutOfRangeError: as they say.
    """
    probability(level, "level")
    y, v = _effects(effects, variances)
    tail = (1 - level) / 2
    targets = chi_square_upper([tail, 1 - tail], y.size - 1)
    return _solve_q(y, v, float(targets[0])), _solve_q(y, v, float(targets[1]))


def _effects(effects: ArrayLike, variances: ArrayLike) -> tuple[FloatArray, FloatArray]:
    y = one_dimensional(finite(effects, "effects", at_least=2), "effects")
    v = positive(variances, "variances")
    same_shape([y, v], "variances")
    return y, v


def _q(y: FloatArray, v: FloatArray, between: float) -> float:
    weights = 1 / (v + between)
    return float((weights * (y - np.average(y, weights=weights)) ** 2).sum())


def _spare_weight(weights: FloatArray) -> float:
    return float(weights.sum() - (weights**2).sum() / weights.sum())


def _typical_variance(v: FloatArray) -> float:
    """The 'typical' sampling variance of Higgins and Thompson (2002), Stat Med 21:1539-1558."""
    return (v.size - 1) / _spare_weight(1 / v)


def _solve_q(y: FloatArray, v: FloatArray, target: float) -> float:
    """The tau2 at which the generalised Q, which falls with tau2, meets the target; 0 if below."""
    if _q(y, v, 0.0) <= target:
        return 0.0
    upper = float(v.max() + np.ptp(y) ** 2)
    while _q(y, v, upper) > target:
        upper *= 4
    from scipy.optimize import brentq  # loading it takes longer than all the rest here

    # xtol is absolute: tie it to the scale of the data, or small changes lose their digits.
    root = brentq(lambda t: _q(y, v, t) - target, 0.0, upper, xtol=1e-14 * upper)
    return float(root)


def _scoring(y: FloatArray, v: FloatArray, *, restricted: bool) -> float:
    between = tau2(y, v, "DL") or float(y.var())
    for _ in range(1000):
        step = _score_step(y, v, between, restricted=restricted)
        # Halve a step that would leave the range; a zero estimate is reached in the limit.
        moved = max(between + step, 0.0)
        if abs(moved - between) <= 1e-14 * (between + float(v.mean())):
            return moved
        between = moved
    raise NoConvergenceError("tau2: Fisher scoring did not settle in 1000 steps; use PM or DL")


def _score_step(y: FloatArray, v: FloatArray, between: float, *, restricted: bool) -> float:
    w = 1 / (v + between)
    squares = float((w**2 * (y - np.average(y, weights=w)) ** 2).sum())
    if not restricted:
        return (squares - float(w.sum())) / float((w**2).sum())
    # P = W - w w' / sum(w), entry by entry: where one weight outweighs all others, differences of
    # sums would cancel to nothing.
    apart = ~np.eye(w.size, dtype=bool)
    projection = np.outer(w, w) / float(w.sum())
    diagonal = (projection * apart).sum(axis=1)
    information = float((diagonal**2).sum() + (projection[apart] ** 2).sum())
    return (squares - float(diagonal.sum())) / information


def _mean(y: FloatArray, v: FloatArray, between: float) -> tuple[float, float]:
    w = 1 / (v + between)
    return float(np.average(y, weights=w)), float(w.sum()) ** -0.5


def _ratio(mean: float, error: float) -> float:
    """Without error a mean of zero says nothing and any other says everything: never NaN."""
    if error > 0:
        return mean / error
    return float(np.copysign(np.inf, mean)) if mean else 0.0


def _prediction(
    mean: float, variance: float, k: int, kind: PredictionKind, level: float
) -> tuple[float, float] | None:
    df = {"normal": np.inf, "t_k_minus_1": k - 1, "t_k_minus_2": k - 2}[kind]
    if df < 1:
        return None
    half = float(student_upper((1 - level) / 2, df)) * variance**0.5
    return mean - half, mean + half
