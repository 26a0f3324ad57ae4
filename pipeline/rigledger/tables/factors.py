"""On what the change depends: platform, card, or the two together, over a full cross of rigs."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from rigledger.statistics.factor_effects import factor_effects
from rigledger.statistics.full_cross import largest_full_cross
from rigledger.statistics.multiplicity import benjamini_hochberg
from rigledger.statistics.small_sample import matched_student
from rigledger.tables.frames import parts_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.statistics.factor_effects import Effect, FactorEffects
    from rigledger.statistics.inputs import FloatArray
    from rigledger.tables.frames import Columns
    from rigledger.tables.workshop import Workshop

KEY = ("contributor", "workload", "resolution", "contrast", "metric")
_SCHEMA = (
    dict.fromkeys((*KEY, "factor"), pl.String())
    | dict.fromkeys(("rigs", "platforms", "cards"), pl.Int64())
    | dict.fromkeys(
        ("extent_pct", "extent_low_95_pct", "extent_high_95_pct", "p", "q"), pl.Float64()
    )
    | {"depends": pl.Boolean(), "where": pl.String(), "not_estimable": pl.String()}
)
_FACTORS = {"platform": "platform", "card": "card", "platform_card": "platform_x_card"}
_MOST_SHOWN = 400
ALPHA = 0.05
"""Rate of false discoveries at which a change is said to depend on something."""


@dataclass(frozen=True)
class Cross:
    """The rigs of one contributor with a change of one workload, cut to a full cross.

    Attributes:
        key: Values of `KEY`.
        platforms: Names of the platforms in the cross, or of all where there is none.
        cards: Names of the cards, likewise.
        rigs: Number of rigs in it.
        change: ln change, shape (platforms, cards); NaN where no rig is.
        variance: Variance of that change, same shape.
        df: Degrees of freedom of the variance, same shape.
        without_spread: Whether a change rests on cells of single runs.
    """

    key: tuple[str, ...]
    platforms: tuple[str, ...]
    cards: tuple[str, ...]
    rigs: int
    change: FloatArray
    variance: FloatArray
    df: FloatArray
    without_spread: bool

    @property
    def complete(self) -> bool:
        """Whether effects can be estimated."""
        return not self.without_spread and not np.isnan(self.change).any()


@dataclass(frozen=True)
class FactorTest:
    """One factor of one cross: what its effect is, if it can be told.

    Attributes:
        cross: The cross.
        factor: Name in the table.
        effects: All effects of the cross; None where nothing can be estimated.
        effect: This factor's.
    """

    cross: Cross
    factor: str
    effects: FactorEffects | None
    effect: Effect | None

    @property
    def family(self) -> tuple[str, ...]:
        """Contributor, contrast and metric: the tests among which discoveries are counted."""
        contributor, _, _, contrast, metric = self.cross.key
        return contributor, contrast, metric


def fill_factor_statistics(shop: Workshop) -> None:
    """Fill ``work.factor_statistics``: three rows a workload and contrast with two rigs or more."""
    material = shop.design.material_change_pct
    tests = list(_tests(list(_crosses(shop)), material))
    rows = [_row(test, q, material) for test, q in zip(tests, _q_values(tests), strict=True)]
    shop.fill("factor_statistics", pl.DataFrame(rows, schema=_SCHEMA, orient="row"))


def _tests(crosses: list[Cross], material_change_pct: float) -> Iterator[FactorTest]:
    for cross, effects in zip(crosses, _effects(crosses, material_change_pct), strict=True):
        for factor, name in _FACTORS.items():
            effect: Effect | None = None if effects is None else getattr(effects, name)
            yield FactorTest(cross, factor, effects, effect)


def _q_values(tests: list[FactorTest]) -> list[float | None]:
    """Rate of false discoveries of each test in its family; a family is one contributor's alone.

    So nobody else's set changes what a contributor's change is said to depend on.
    """
    families: dict[tuple[str, ...], list[int]] = {}
    for place, test in enumerate(tests):
        if test.effect is not None:
            families.setdefault(test.family, []).append(place)
    found: list[float | None] = [None] * len(tests)
    for places in families.values():
        p = [effect.p for place in places if (effect := tests[place].effect) is not None]
        for place, q in zip(places, benjamini_hochberg(p), strict=True):
            found[place] = float(q)
    return found


def _crosses(shop: Workshop) -> Iterator[Cross]:
    changes = shop.frame(f"select * from work.cross_rows order by {', '.join(KEY)}, rig")
    variance, df = matched_student(changes["ln_half_90"], changes["ln_half_95"])
    numbers = (pl.Series("variance", variance), pl.Series("df", df))
    for key, held in parts_of(changes.with_columns(*numbers), KEY):
        if len(set(held["rig"])) > 1:
            yield _cross(key, held)


def _cross(key: tuple[str, ...], held: Columns) -> Cross:
    platforms, cards = (tuple(sorted(set(held[name]))) for name in ("platform", "card"))
    grids = _grids(held, platforms, cards)
    if len(platforms) > 1 and len(cards) > 1:
        rows, columns = largest_full_cross(~np.isnan(grids[0]))
        if rows:
            platforms = tuple(platforms[place] for place in rows)
            cards = tuple(cards[place] for place in columns)
            grids = grids[:, list(rows)][:, :, list(columns)]
    places = zip(held["platform"], held["card"], strict=True)
    inside = [platform in platforms and card in cards for platform, card in places]
    without_spread = any(compress(held["without_spread"], inside))
    change, variance, df = grids
    return Cross(key, platforms, cards, sum(inside), change, variance, df, without_spread)


def _grids(held: Columns, platforms: tuple[str, ...], cards: tuple[str, ...]) -> FloatArray:
    """Lay changes, variances and degrees of freedom out as platforms × cards.

    Two rigs of the same platform and card are averaged; the mean has the fewer degrees of freedom
    of the two, which claims less rather than more.
    """
    place = [
        platforms.index(platform) * len(cards) + cards.index(card)
        for platform, card in zip(held["platform"], held["card"], strict=True)
    ]
    size = len(platforms) * len(cards)
    count = np.bincount(place, minlength=size)
    some = np.maximum(count, 1)
    fewest = np.full(size, np.inf)
    np.minimum.at(fewest, place, held["df"])
    grids = np.stack(
        (
            np.bincount(place, held["ln_change"], minlength=size) / some,
            np.bincount(place, held["variance"], minlength=size) / some**2,
            fewest,
        )
    )
    grids[:, count == 0] = np.nan
    return grids.reshape(3, len(platforms), len(cards))


def _effects(crosses: list[Cross], material_change_pct: float) -> list[FactorEffects | None]:
    """Estimate all complete crosses, those of one shape in one call."""
    found: list[FactorEffects | None] = [None] * len(crosses)
    shapes: dict[tuple[int, ...], list[int]] = {}
    for place, cross in enumerate(crosses):
        if cross.complete:
            shapes.setdefault(cross.change.shape, []).append(place)
    for places in shapes.values():
        grids = [
            np.stack([getattr(crosses[place], name) for place in places])
            for name in ("change", "variance", "df")
        ]
        results = factor_effects(*grids, material_change_pct=material_change_pct)
        for place, result in zip(places, results, strict=True):
            found[place] = result
    return found


def _row(test: FactorTest, q: float | None, material_change_pct: float) -> tuple[object, ...]:
    cross, effect = test.cross, test.effect
    counts = (cross.rigs, len(cross.platforms), len(cross.cards))
    head = (*cross.key, test.factor, *counts)
    if effect is None or test.effects is None or q is None:
        return (*head, *(None,) * 5, False, None, _not_estimable(cross, test.factor))
    depends = q <= ALPHA and effect.extent_pct > material_change_pct
    extent = (effect.extent_pct, effect.extent_low_pct, effect.extent_high_pct)
    where = _where(cross, test.factor, test.effects) if depends else None
    return (*head, *extent, effect.p, q, depends, where, None)


def _not_estimable(cross: Cross, factor: str) -> str:
    if len(cross.platforms) == 1 and factor != "card":
        return "one_platform"
    if len(cross.cards) == 1 and factor != "platform":
        return "one_card"
    return "no_spread" if cross.without_spread else "not_a_full_cross"


def _where(cross: Cross, factor: str, effects: FactorEffects) -> str | None:
    """Say the change where something stands apart, and its range elsewhere.

    For the interaction these are the rigs that stand apart from the others: its own deviations
    come in pairs that cancel, and name every rig.
    """
    axis = {"platform": 1, "card": 0}.get(factor)
    if axis is None:
        names = [f"{one} with {other}" for one in cross.platforms for other in cross.cards]
        change = cross.change.ravel()
        apart = effects.rig.apart.ravel() if effects.rig else np.zeros(len(names), dtype=np.bool_)
    else:
        names = list(cross.platforms if factor == "platform" else cross.cards)
        effect: Effect = getattr(effects, factor)
        change, apart = cross.change.mean(axis=axis), effect.apart
    stated = sorted(zip(np.expm1(change) * 100, names, apart, strict=True))
    parts = [f"{value:+.1f} % on {name}" for value, name, stands in stated if stands]
    others = [value for value, _, stands in stated if not stands]
    if parts and others:
        parts.append(f"{others[0]:+.1f} to {others[-1]:+.1f} % elsewhere")
    return _cut(parts) or None


def _cut(parts: list[str]) -> str:
    """Join as many parts as the column holds."""
    text = "; ".join(parts)
    while len(text) > _MOST_SHOWN:
        parts = parts[:-1]
        text = "; ".join([*parts, "..."])
    return text
