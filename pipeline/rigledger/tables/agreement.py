"""How changes agree between contributors with the same hardware: pairwise, or by h, k, robust z."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from rigledger.statistics.checks import NoVarianceError
from rigledger.statistics.interlaboratory import h_critical, robust_z
from rigledger.statistics.laws import student_tail, student_upper
from rigledger.statistics.multiplicity import benjamini_hochberg
from rigledger.statistics.small_sample import matched_student
from rigledger.statistics.unequal_replicates import within_consistency
from rigledger.tables.pooling import contributor_effects

if TYPE_CHECKING:
    from rigledger.tables.workshop import Workshop

FAMILY = ("metric", "contrast")
CELL = ("platform", "card", "workload", "resolution", "contrast", "metric")
CIRCLE = (*CELL, "stack_family")
LEVEL = 0.005
"""Of h and k, for one contributor: the level of the standard's tables."""
ACTION_Z = 3.0
"""Robust z that asks for a look: the action signal of ISO 13528:2015, 9.4."""
Q = 0.05

_TEXTS = (
    *CELL, "rig", "contributor", "counted_as", "method", "against", "stack_family", "differs_in",
)  # fmt: skip
_NUMBERS = (
    "change_pct", "against_change_pct", "difference_pct", "low_95_pct", "high_95_pct", "q", "h",
    "k", "robust_z",
)  # fmt: skip
_SCHEMA = (
    dict.fromkeys(_TEXTS, pl.String())
    | {"contributors": pl.Int64()}
    | dict.fromkeys(_NUMBERS, pl.Float64())
    | {"flagged": pl.Boolean()}
)


def fill_agreement(shop: Workshop) -> None:
    """Fill ``work.agreement_rows`` by both methods; none applies to a lone contributor's rigs."""
    material = shop.design.material_change_pct
    order = ", ".join((*CELL, "rig"))
    pairs = shop.frame(f"select * from work.rivals order by {order}, against")
    parts = [pl.DataFrame(schema=_SCHEMA)]
    if pairs.height:
        parts.append(_pairwise(pairs, material))
    circles = shop.frame(f"select * from work.circles order by {order}")
    held = circles.partition_by(*CIRCLE, maintain_order=True) if circles.height else []
    parts += [judge_circle(part, material) for part in held]
    found = [part.select(name for name in _SCHEMA if name in part.columns) for part in parts]
    shop.fill("agreement_rows", pl.concat(found, how="diagonal"))


def _pairwise(pairs: pl.DataFrame, material_change_pct: float) -> pl.DataFrame:
    variance, df = matched_student(pairs["ln_half_90"], pairs["ln_half_95"])
    other_variance, other_df = matched_student(pairs["other_ln_half_90"], pairs["other_ln_half_95"])
    difference = (pairs["ln_change"] - pairs["other_ln_change"]).to_numpy()
    half, p = difference_test(difference, (variance, other_variance), (df, other_df))
    ends = {"difference_pct": difference, "low_95_pct": difference - half,
            "high_95_pct": difference + half}  # fmt: skip
    table = _with_changes(pairs, pairs["other_ln_change"].to_numpy()).with_columns(
        **{name: pl.Series(_pct(end)) for name, end in ends.items()},
        p=pl.Series(p),
        method=pl.lit("pairwise"),
        contributors=pl.lit(2, pl.Int64()),
    )
    return _with_q(table).with_columns(flagged=(pl.col("q") < Q) & _beyond(material_change_pct))


def difference_test(
    difference: np.ndarray,
    variances: tuple[np.ndarray, np.ndarray],
    degrees_of_freedom: tuple[np.ndarray, np.ndarray],
) -> tuple[np.ndarray, np.ndarray]:
    """Test differences of two independent changes, each with its own uncertainty.

    Welch BL (1947), Biometrika 34(1/2):28-35, degrees of freedom after Satterthwaite.

    Args:
        difference: ln differences, shape (n,).
        variances: of both sides, shape (n,) each.
        degrees_of_freedom: of both variances, shape (n,) each, infinity allowed.

    Returns:
        Half-width of the 95 % interval and the two-sided p value, shape (n,) each.
    """
    total = variances[0] + variances[1]
    spent = sum(v**2 / df for v, df in zip(variances, degrees_of_freedom, strict=True))
    with np.errstate(divide="ignore"):
        df = np.where(spent > 0, total**2 / spent, np.inf)
    error = np.sqrt(total)
    return student_upper(0.025, df) * error, 2 * student_tail(np.abs(difference) / error, df)


def _with_q(table: pl.DataFrame) -> pl.DataFrame:
    parts = [
        part.with_columns(q=pl.Series(benjamini_hochberg(part["p"])))
        for part in table.partition_by(*FAMILY, maintain_order=True)
    ]
    return pl.concat(parts).drop("p")


def judge_circle(part: pl.DataFrame, material_change_pct: float) -> pl.DataFrame:
    """Judge six or more contributors by h and k, and by robust z.

    Args:
        part: One row a rig, of one configuration, workload and stack family: ``counted_as``,
            ``ln_change``, ``ln_half_90``, ``ln_half_95``, ``spread_pct`` and ``spread_df``.
        material_change_pct: Differences within it are no question.

    Returns:
        The rows with h, k, robust z and whether they are flagged.
    """
    names, place = np.unique(part["counted_as"].to_numpy(), return_inverse=True)
    effects, _ = contributor_effects(part.to_dict(as_series=False))
    others = (effects.sum() - effects) / (effects.size - 1)
    h, z = _h(effects), _robust_z(effects)
    k, tail = _k(part)
    table = _with_changes(part, others[place]).with_columns(
        difference_pct=pl.Series(_pct(part["ln_change"].to_numpy() - others[place])),
        method=pl.lit("interlaboratory"),
        against=pl.lit("all"),
        contributors=pl.lit(names.size, pl.Int64()),
        h=_number(h, place),
        k=pl.Series(k, dtype=pl.Float64()),
        robust_z=_number(z, place),
        tail=pl.Series(tail, dtype=pl.Float64()),
    )
    apart = (pl.col("h").abs() > h_critical(names.size, LEVEL)) | (
        pl.col("robust_z").abs() >= ACTION_Z
    )
    flagged = (apart & _beyond(material_change_pct)) | (pl.col("tail") < LEVEL)
    return table.with_columns(flagged=flagged.fill_null(value=False))


def _h(effects: np.ndarray) -> np.ndarray | None:
    sd = effects.std(ddof=1)
    return (effects - effects.mean()) / sd if sd > 0 else None


def _robust_z(effects: np.ndarray) -> np.ndarray | None:
    try:
        return robust_z(effects)
    except NoVarianceError:
        return None


def _k(part: pl.DataFrame) -> tuple[list[float | None], list[float | None]]:
    try:
        k, tail = within_consistency(part["spread_pct"], part["spread_df"])
    except NoVarianceError:
        nothing: list[float | None] = [None] * part.height
        return nothing, nothing
    return list(k), list(tail)


def _number(values: np.ndarray | None, place: np.ndarray) -> pl.Series:
    """Give each rig its contributor's number; a number that isn't defined is blank."""
    held = [None] * place.size if values is None else values[place]
    return pl.Series(held, dtype=pl.Float64())


def _with_changes(rows: pl.DataFrame, against: np.ndarray) -> pl.DataFrame:
    return rows.with_columns(
        change_pct=pl.Series(_pct(rows["ln_change"].to_numpy())),
        against_change_pct=pl.Series(_pct(against)),
    )


def _beyond(material_change_pct: float) -> pl.Expr:
    return pl.col("difference_pct").abs() > material_change_pct


def _pct(ln_change: np.ndarray) -> np.ndarray:
    """Give changes in per cent; an interval's end beyond the column's bound is held there."""
    return np.asarray(np.minimum(100 * np.expm1(np.minimum(ln_change, 50.0)), 1e6))
