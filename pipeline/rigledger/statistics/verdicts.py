"""Two questions, two answers: is there a change (direction), and does it matter (size)?"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from rigledger.statistics.outputs import (
    GAIN,
    IMMATERIAL,
    LOSS,
    MATERIAL,
    NO_VERDICT,
    NOT_SHOWN,
    UNSETTLED,
)
from rigledger.statistics.sequential import adjust_p

if TYPE_CHECKING:
    from rigledger.statistics.inputs import BoolArray, FloatArray, IntArray, Settings
    from rigledger.statistics.mixture import ScaleMixture
    from rigledger.statistics.outputs import TextArray

ALPHA = 0.05


def ln_limits(change_pct: float) -> tuple[float, float]:
    """±δ on the ln scale: ln(1 - δ) and ln(1 + δ), which are not symmetric about zero."""
    return float(np.log1p(-change_pct / 100.0)), float(np.log1p(change_pct / 100.0))


@dataclass(frozen=True)
class PValues:
    """P values per pair, adjusted for the declared rounds. Shapes (pairs,).

    Attributes:
        direction: two-sided, of no change.
        immaterial: the larger one of the two one-sided tests against -δ and +δ (Schuirmann 1987).
        material: two-sided, of a change within ±δ: twice the one-sided p at the nearer limit.
    """

    direction: FloatArray
    immaterial: FloatArray
    material: FloatArray


def p_values(
    change: FloatArray, law: ScaleMixture, rounds_used: IntArray, settings: Settings
) -> PValues:
    """P values of the changes of ln under their mixtures."""
    low, high = ln_limits(settings.material_change_pct)
    zero = 2.0 * law.upper_tail(np.abs(change))
    equivalence = np.maximum(law.upper_tail(change - low), law.upper_tail(high - change))
    beyond = np.minimum(law.upper_tail(change - high), law.upper_tail(low - change))
    kind, looks = settings.limits, settings.rounds_declared
    return PValues(
        direction=adjust_p(kind, looks, rounds_used, np.minimum(zero, 1.0)),
        immaterial=adjust_p(kind, looks, rounds_used, equivalence, sides=1),
        material=adjust_p(kind, looks, rounds_used, np.minimum(2.0 * beyond, 1.0)),
    )


def direction(change: FloatArray, p: PValues, settings: Settings, judged: BoolArray) -> TextArray:
    """Gain, loss or not_shown; no_verdict for metrics without a better direction."""
    if settings.better_when == "neither":
        return np.full(len(change), NO_VERDICT)
    sign = 1.0 if settings.better_when == "higher" else -1.0
    shown = judged & (p.direction <= ALPHA)
    return np.where(shown, np.where(sign * change > 0, GAIN, LOSS), NOT_SHOWN)


def size(p: PValues, settings: Settings, judged: BoolArray) -> TextArray:
    """Material, immaterial or unsettled; no_verdict for metrics without a better direction."""
    if settings.better_when == "neither":
        return np.full(len(judged), NO_VERDICT)
    small = np.where(judged & (p.immaterial <= ALPHA), IMMATERIAL, UNSETTLED)
    return np.where(judged & (p.material <= ALPHA), MATERIAL, small)
