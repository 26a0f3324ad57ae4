"""Pools changes over contributors: random effects, each contributor's rigs averaged first."""

from __future__ import annotations

import math
from itertools import compress
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from rigledger.statistics.random_effects import NoConvergenceError, next_measured, pool
from rigledger.statistics.small_sample import matched_student
from rigledger.tables.frames import parts_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from rigledger.statistics.random_effects import Pooled
    from rigledger.tables.frames import Columns
    from rigledger.tables.workshop import Workshop

KEY = ("scope", "platform", "card", "workload", "resolution", "contrast", "metric")
FEWEST_FOR_PREDICTION = 3
"""Common practice, no source: with two contributors the interval of a third says nothing."""

_COUNTS = ("contributors", "names", "rigs", "rigs_left_out")
_NUMBERS = (
    "change_pct", "low_95_pct", "high_95_pct", "like_these_low_95_pct", "like_these_high_95_pct",
    "between_pct",
)  # fmt: skip
_SCHEMA = (
    dict.fromkeys(KEY, pl.String())
    | dict.fromkeys(_COUNTS, pl.Int64())
    | {"counted": pl.String(), "differs_in": pl.String()}
    | dict.fromkeys(_NUMBERS, pl.Float64())
    | {"not_pooled": pl.String()}
)
_MAY_DIFFER = (
    "firmware_version", "driver_version", "card_firmware_version", "os", "os_build",
    "memory_speed_mts", "profile", "title_build",
)  # fmt: skip
_MOST_NAMED = 4000


def fill_pooled(shop: Workshop) -> None:
    """Fill ``work.pooled``: one row a scope and workload that two names or more measured."""
    held = shop.frame(f"select * from work.pooled_scopes order by {', '.join(KEY)}, rig")
    rows = [
        (*key, *_row(part))
        for key, part in parts_of(held, KEY)
        if len(set(part["contributor"])) > 1
    ]
    shop.fill("pooled", pl.DataFrame(rows, schema=_SCHEMA, orient="row"))


def _usable(part: Columns) -> Columns:
    kept = part["usable"]
    return {name: list(compress(column, kept)) for name, column in part.items()}


def _row(part: Columns) -> tuple[object, ...]:
    used = _usable(part)
    people, names = (len(set(used[name])) for name in ("counted_as", "contributor"))
    rigs = len(used["rig"])
    counts = (people, names, rigs, len(part["rig"]) - rigs)
    why = _not_pooled(part, people)
    numbers = (None,) * len(_NUMBERS) if why else _numbers(used)
    return (*counts, _counted(used), _differing(used), *numbers, why)


def _not_pooled(part: Columns, people: int) -> str | None:
    if people < 2:
        return "one_contributor"
    return "depends_on_hardware" if part["depends"][0] else None


def _numbers(used: Columns) -> tuple[float | None, ...]:
    effects, variances = contributor_effects(used)
    found = pool_changes(effects, variances)
    enough = effects.size >= FEWEST_FOR_PREDICTION
    like = next_measured(effects, variances) if enough else None
    ends = (found.mean, found.lower, found.upper, *(like or (None, None)))
    return (*(None if end is None else _pct(end) for end in ends), 100 * math.sqrt(found.tau2))


def contributor_effects(used: Columns) -> tuple[np.ndarray, np.ndarray]:
    """Average the rigs of each contributor.

    The rigs of one contributor share room, habits and perhaps a card, so their errors are taken as
    fully dependent: the mean of the variances, which claims less rather than more.

    Args:
        used: Columns ``counted_as``, ``ln_change``, ``ln_half_90`` and ``ln_half_95``.

    Returns:
        ln change and its variance per contributor, shape (contributors,) each, by name.
    """
    variance, _ = matched_student(used["ln_half_90"], used["ln_half_95"])
    names, place = np.unique(np.asarray(used["counted_as"], dtype=str), return_inverse=True)
    count = np.bincount(place, minlength=names.size)
    return (
        np.bincount(place, used["ln_change"]) / count,
        np.bincount(place, variance) / count,
    )


def pool_changes(effects: np.ndarray, variances: np.ndarray) -> Pooled:
    """Pool by REML; by Paule and Mandel where its iteration doesn't settle, as it may near zero."""
    try:
        return pool(effects, variances, never_narrower=True)
    except NoConvergenceError:
        return pool(effects, variances, estimator="PM", never_narrower=True)


def _pct(ln_change: float) -> float | None:
    """Give a change in per cent; an end too far to be one is blank."""
    return 100 * math.expm1(ln_change) if ln_change < math.log(1e4) else None


def _counted(used: Columns) -> str:
    names: dict[str, set[str]] = {}
    for first, contributor in zip(used["counted_as"], used["contributor"], strict=True):
        names.setdefault(str(first), set()).add(contributor)
    return _cut(", ".join("=".join(sorted(names[first])) for first in sorted(names)) or "none")


def _cut(text: str) -> str:
    return text if len(text) <= _MOST_NAMED else text[: _MOST_NAMED - 3] + "..."


def _differing(used: Columns) -> str | None:
    return ", ".join(_differing_fields(used)) or None


def _differing_fields(used: Columns) -> Iterator[str]:
    """Name what the rigs' stacks and builds don't share; ``unknown`` never equals another's."""
    for name in _MAY_DIFFER:
        held = used[name]
        if len(set(held)) > 1 or (len(held) > 1 and "unknown" in held):
            yield name
