"""On what a change depends: platform, card, or the one with the other.

Over rigs that form a full cross, the ln change of rig (i, j) is written as mean + platform i +
card j + (platform x card) ij, unweighted, so that each effect means the same whatever the
others are. Each effect is tested by the Wald statistic of its contrasts with the changes' own
variances. Referred to chi-square (Cochran's Q for the interaction) it flags far too often,
because variances from three runs are themselves uncertain; here its reference is the same
statistic of independent t values with each change's degrees of freedom. ci/bench measures both.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Literal

import numpy as np

from rigledger.statistics.checks import finite, positive, probability, same_shape
from rigledger.statistics.errors import OutOfRangeError, ShapeError
from rigledger.statistics.laws import chi_square_tail, student_tail
from rigledger.statistics.multiplicity import holm
from rigledger.statistics.small_sample import largest_quantile, quadratic_tail, student_draws

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from rigledger.statistics.checks import FloatArray

    BoolArray = NDArray[np.bool_]

EffectName = Literal["platform", "card", "platform_x_card", "rig"]
Scope = Literal["all_rigs", "platform", "card", "platform_and_card", "rig", "not_estimable"]

# Simultaneous intervals need fewer draws than p values, and cost more each.
_INTERVAL_DRAWS = 1000
_SETS_AT_ONCE = 32


@dataclass(frozen=True)
class Effect:
    """What one factor does to the change.

    Attributes:
        deviations_pct: change at each level beyond the mean over rigs, in percent; shape
            (platforms,), (cards,) or (platforms, cards).
        extent_pct: the largest difference between two rigs that this effect alone makes.
        extent_low_pct: lower end of its interval, from simultaneous intervals of all pairs.
        extent_high_pct: upper end.
        statistic: Wald statistic of the effect's contrasts.
        rank: how many contrasts.
        p: small-sample p value.
        plain_p: p value from chi-square, for comparison only: it claims too much.
        flag: p below alpha and extent beyond the material change.
        apart: which levels (or rigs) differ from the others, simultaneously over all of them;
            shape of ``deviations_pct``.
    """

    deviations_pct: FloatArray
    extent_pct: float
    extent_low_pct: float
    extent_high_pct: float
    statistic: float
    rank: int
    p: float
    plain_p: float
    flag: bool
    apart: BoolArray


@dataclass(frozen=True)
class SignCrossing:
    """Whether the change rises on some rigs and falls on others.

    Both must be shown (intersection-union, as in Gail M, Simon R (1985), Biometrics
    41(2):361-372, here with t values and Holm's adjustment over rigs).

    Attributes:
        rises: rigs whose change is shown to be above zero, shape (platforms, cards).
        falls: rigs whose change is shown to be below zero.
        p: twice the larger of the adjusted p of the surest rise and of the surest fall.
        flag: p below alpha: some rigs rise and some fall.
    """

    rises: BoolArray
    falls: BoolArray
    p: float
    flag: bool


@dataclass(frozen=True)
class FactorEffects:
    """The effects of one workload, or why there are none.

    Attributes:
        reason: empty, or why nothing can be estimated.
        platform: None with one platform.
        card: None with one card.
        platform_x_card: None unless there are two platforms and two cards.
        rig: whether the rigs differ at all, for whatever reason; None with one rig.
        crossing: rise and fall by rig; None where nothing can be estimated.
        scope: the narrowest true scope of a sentence about the change.
    """

    reason: str
    platform: Effect | None
    card: Effect | None
    platform_x_card: Effect | None
    rig: Effect | None
    crossing: SignCrossing | None
    scope: Scope


@dataclass(frozen=True)
class _Rules:
    alpha: float
    material_change_pct: float
    draws: int


@dataclass(frozen=True)
class _Crosses:
    """Complete crosses of one shape, rigs in one row: arrays of shape (sets, rigs)."""

    platforms: int
    cards: int
    changes: FloatArray
    variances: FloatArray
    df: FloatArray
    normals: FloatArray
    scales: FloatArray


def factor_effects(
    changes: ArrayLike,
    variances: ArrayLike,
    degrees_of_freedom: ArrayLike,
    *,
    material_change_pct: float = 3.0,
    alpha: float = 0.05,
    draws: int = 2000,
) -> list[FactorEffects]:
    """Returns platform, card and platform x card effects of many workloads at once.

    Args:
        changes: ln change of the setting per workload and rig, shape (workloads, platforms,
            cards). NaN where a rig was not measured: that workload is not estimable (take the
            rigs of `full_cross.largest_full_cross` first).
        variances: moderated variance of each change, same shape.
        degrees_of_freedom: of each variance, same shape; infinity allowed. For intervals
            integrated over spreads use `small_sample.matched_student`.
        material_change_pct: an effect whose extent stays within this is never flagged.
        alpha: rate of false flags of each test.
        draws: draws of the reference distribution; its seed is fixed, so the same numbers in
            give the same numbers out, whatever else is in the call.

    Returns:
        One result per workload, in order.

    Raises:
        ShapeError: not three dimensions, or shapes that differ.
        NotFiniteError, OutOfRangeError: a measured rig has no finite change, no variance above
            zero, or no degrees of freedom; or a setting is out of range.
    """
    rules = _Rules(probability(alpha, "alpha"), material_change_pct, draws)
    if material_change_pct < 0:
        raise OutOfRangeError("material_change_pct", material_change_pct, "0 or more")
    y, v, df = _grids(changes, variances, degrees_of_freedom)
    missing = np.isnan(y + v + df).sum(axis=(1, 2))
    complete = np.flatnonzero(missing == 0)
    results = [_not_estimable(int(count)) for count in missing]
    for start in range(0, complete.size, _SETS_AT_ONCE):
        chosen = complete[start : start + _SETS_AT_ONCE]
        for index, result in zip(
            chosen, _estimate(y[chosen], v[chosen], df[chosen], rules), strict=True
        ):
            results[index] = result
    return results


def _grids(
    changes: ArrayLike, variances: ArrayLike, degrees_of_freedom: ArrayLike
) -> tuple[FloatArray, FloatArray, FloatArray]:
    y, v, df = (
        np.asarray(grid, dtype=np.float64) for grid in (changes, variances, degrees_of_freedom)
    )
    same_shape([y, v, df], "variances and degrees of freedom")
    if y.ndim != 3 or 0 in y.shape[1:]:
        raise ShapeError("changes", y.shape, "workloads by platforms by cards")
    return y, v, df


def _not_estimable(missing: int) -> FactorEffects:
    reason = f"incomplete cross: {missing} rig(s) not measured"
    return FactorEffects(reason, None, None, None, None, None, "not_estimable")


def _estimate(
    changes: FloatArray, variances: FloatArray, df: FloatArray, rules: _Rules
) -> list[FactorEffects]:
    sets, platforms, cards = changes.shape
    flat = (sets, platforms * cards)
    nu = positive(df, "degrees of freedom", or_infinite=True).reshape(flat)
    crosses = _Crosses(
        platforms,
        cards,
        finite(changes, "changes").reshape(flat),
        positive(variances, "variances").reshape(flat),
        nu,
        *student_draws(nu, rules.draws),
    )
    effects = {name: _effects_of(crosses, name, rules) for name in _estimable(platforms, cards)}
    return [
        _assemble({name: found[index] for name, found in effects.items()}, crossing)
        for index, crossing in enumerate(_crossings(crosses, rules.alpha))
    ]


def _estimable(platforms: int, cards: int) -> list[EffectName]:
    names: list[EffectName] = []
    if platforms > 1:
        names.append("platform")
    if cards > 1:
        names.append("card")
    if platforms > 1 and cards > 1:
        names.append("platform_x_card")
    if platforms * cards > 1:
        names.append("rig")
    return names


def _assemble(found: dict[EffectName, Effect], crossing: SignCrossing) -> FactorEffects:
    return FactorEffects(
        reason="" if found else "one rig: nothing to compare it with",
        platform=found.get("platform"),
        card=found.get("card"),
        platform_x_card=found.get("platform_x_card"),
        rig=found.get("rig"),
        crossing=crossing,
        scope=_scope(found),
    )


def _scope(found: dict[EffectName, Effect]) -> Scope:
    flagged = {name for name, effect in found.items() if effect.flag}
    if not found:
        return "rig"
    if "platform_x_card" in flagged:
        return "rig"
    if {"platform", "card"} <= flagged:
        return "platform_and_card"
    if "platform" in flagged:
        return "platform"
    if "card" in flagged:
        return "card"
    return "rig" if "rig" in flagged else "all_rigs"


def _components(name: EffectName, platforms: int, cards: int) -> FloatArray:
    """Rows that turn the rigs' changes into one deviation per level: shape (levels, rigs)."""
    rigs = platforms * cards
    of_platforms = np.eye(platforms) - 1 / platforms
    of_cards = np.eye(cards) - 1 / cards
    rows = {
        "platform": np.kron(of_platforms, np.full((1, cards), 1 / cards)),
        "card": np.kron(np.full((1, platforms), 1 / platforms), of_cards),
        "platform_x_card": np.kron(of_platforms, of_cards),
        "rig": np.eye(rigs) - 1 / rigs,
    }
    return np.asarray(rows[name], dtype=np.float64)


def _effects_of(crosses: _Crosses, name: EffectName, rules: _Rules) -> list[Effect]:
    rows = _components(name, crosses.platforms, crosses.cards)
    rank = _rank(name, crosses.platforms, crosses.cards)
    statistic, p = _wald(crosses, rows, rank)
    extent, low, high = _extent(crosses, rows, 1 - rules.alpha)
    apart = _apart(crosses, name, rows, 1 - rules.alpha)
    deviations = _percent(crosses.changes @ rows.T)
    two_way = name in {"platform_x_card", "rig"}
    shape = (crosses.platforms, crosses.cards) if two_way else (rows.shape[0],)
    return [
        Effect(
            deviations_pct=deviations[index].reshape(shape),
            extent_pct=float(extent[index]),
            extent_low_pct=float(low[index]),
            extent_high_pct=float(high[index]),
            statistic=float(statistic[index]),
            rank=rank,
            p=float(p[index]),
            plain_p=float(chi_square_tail(statistic[index], rank)),
            flag=bool(p[index] < rules.alpha and extent[index] > rules.material_change_pct),
            apart=apart[index].reshape(shape),
        )
        for index in range(statistic.size)
    ]


def _rank(name: EffectName, platforms: int, cards: int) -> int:
    by_name = {
        "platform": platforms - 1,
        "card": cards - 1,
        "platform_x_card": (platforms - 1) * (cards - 1),
        "rig": platforms * cards - 1,
    }
    return by_name[name]


def _wald(crosses: _Crosses, rows: FloatArray, rank: int) -> tuple[FloatArray, FloatArray]:
    """The Wald statistic is the squared length of the t values within the contrasts' space."""
    contrasts = np.linalg.svd(rows)[2][:rank]
    scaled = contrasts * np.sqrt(crosses.variances)[:, None, :]
    basis = np.linalg.qr(np.swapaxes(scaled, 1, 2)).Q
    t_values = crosses.changes / np.sqrt(crosses.variances)
    statistic = np.asarray(((t_values[:, None, :] @ basis) ** 2).sum(axis=(1, 2)))
    return statistic, quadratic_tail(statistic, crosses.normals, crosses.scales, basis)


def _extent(
    crosses: _Crosses, rows: FloatArray, level: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    pairs = np.array([rows[i] - rows[j] for i, j in combinations(range(len(rows)), 2)])
    # In a 2 x 2 cross the rigs of one diagonal share their interaction: no difference to bound.
    pairs = pairs[np.abs(pairs).max(axis=1) > 1e-9]
    estimates, errors, critical = _simultaneous(crosses, pairs[None], level)
    size, half = np.abs(estimates), critical[:, None] * errors
    return (
        _percent(size.max(axis=1)),
        _percent(np.maximum((size - half).max(axis=1), 0.0)),
        _percent((size + half).max(axis=1)),
    )


def _apart(crosses: _Crosses, name: EffectName, rows: FloatArray, level: float) -> BoolArray:
    contrasts = _against_the_others(crosses.variances) if name == "rig" else rows[None]
    estimates, errors, critical = _simultaneous(crosses, contrasts, level)
    return np.asarray(np.abs(estimates) > critical[:, None] * errors)


def _against_the_others(variances: FloatArray) -> FloatArray:
    """Each rig against the precision-weighted mean of the others: shape (sets, rigs, rigs).

    Weighted, because one noisy rig among the others would hide every deviation.
    """
    count = variances.shape[1]
    weights = np.repeat((1 / variances)[:, None, :], count, axis=1)
    weights[:, np.arange(count), np.arange(count)] = 0.0
    return np.asarray(np.eye(count) - weights / weights.sum(axis=2, keepdims=True))


def _simultaneous(
    crosses: _Crosses, contrasts: FloatArray, level: float
) -> tuple[FloatArray, FloatArray, FloatArray]:
    estimates = (contrasts @ crosses.changes[:, :, None])[:, :, 0]
    scaled = contrasts * np.sqrt(crosses.variances)[:, None, :]
    errors = np.linalg.norm(scaled, axis=2)
    critical = largest_quantile(
        scaled / errors[:, :, None],
        crosses.normals[:_INTERVAL_DRAWS],
        crosses.scales[:, :_INTERVAL_DRAWS],
        level,
    )
    return estimates, errors, critical


def _crossings(crosses: _Crosses, alpha: float) -> list[SignCrossing]:
    above = student_tail(crosses.changes / np.sqrt(crosses.variances), crosses.df)
    shape = (crosses.platforms, crosses.cards)
    found = []
    for upper in above:
        rise, fall = holm(upper), holm(1 - upper)
        # Each side at half of alpha, as in the two-sided intervals of the rigs' own changes.
        rises, falls = (side.reshape(shape) < alpha / 2 for side in (rise, fall))
        p = min(1.0, 2 * max(float(rise.min()), float(fall.min())))
        found.append(SignCrossing(rises, falls, p, p < alpha))
    return found


def _percent(log_change: FloatArray) -> FloatArray:
    # An interval of a hopelessly noisy rig stays a finite number, however large.
    return np.asarray(100.0 * np.expm1(np.minimum(log_change, 300.0)), dtype=np.float64)
