"""Collects figures beside their bounds, prints them, and says whether any fell short."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from scipy.special import stdtrit

FEW_STUDIES = 25


@dataclass
class Scoreboard:
    """Figures of one run of a benchmark.

    A figure is a mean over simulated studies, judged with room for two of its standard errors,
    printed beside it. A quick run's few studies hardly know that error, and among a hundred such
    figures some stray by chance: there the room is the 99.9 % point of Student's t. Without bounds
    a figure is reported only.
    """

    short: list[str] = field(default_factory=list)

    def title(self, text: str) -> None:
        """Begin a section."""
        print(f"\n{text}", flush=True)

    def report(
        self,
        name: str,
        samples: object,
        low: float | None = None,
        high: float | None = None,
        *,
        note: str = "",
    ) -> float:
        """Print the mean of one number per study beside its bounds.

        Args:
            name: what it is.
            samples: one number per simulated study.
            low: it must not fall below this.
            high: it must not exceed this.
            note: printed behind.
        """
        values = np.asarray(samples, dtype=float)
        mean = float(values.mean())
        se = float(values.std(ddof=1) / np.sqrt(len(values))) if len(values) > 1 else 0.0
        few = len(values) < FEW_STUDIES
        room = se * (float(stdtrit(max(len(values) - 1, 1), 0.999)) if few else 2.0)
        good = (low is None or mean >= low - room) and (high is None or mean <= high + room)
        self._line(name, mean, se, (low, high), good=good, note=note)
        return mean

    def _line(
        self,
        name: str,
        mean: float,
        se: float,
        bounds: tuple[float | None, float | None],
        *,
        good: bool,
        note: str,
    ) -> None:
        low, high = bounds
        if low is None and high is None:
            wanted, mark = "", ""
        else:
            wanted = f"{'' if low is None else low:>5} .. {'' if high is None else high:<5}"
            mark = "ok" if good else "SHORT"
        if not good:
            self.short.append(name)
        print(f"  {name:62} {mean:7.4f} ± {se:.4f}  {wanted:16} {mark:5} {note}", flush=True)

    def end(self) -> int:
        """Print the outcome; 1 if a figure fell short, else 0."""
        print()
        if self.short:
            print(f"{len(self.short)} figures fell short: " + "; ".join(self.short))
            return 1
        print("all figures within their bounds")
        return 0
