"""Collects figures beside their bounds, prints them, and says whether any fell short."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from results import Figure, Results
from scipy.special import stdtrit

if TYPE_CHECKING:
    from pathlib import Path

FEW_STUDIES = 25


@dataclass
class Scoreboard:
    """Figures of one run of a benchmark.

    A figure is a mean over simulated studies, judged with room for two of its standard errors,
    printed beside it. A quick run's few studies hardly know that error, and among a hundred such
    figures some stray by chance: there the room is the 99.9 % point of Student's t. Without bounds
    a figure is reported only.

    Attributes:
        results: The same figures, to be kept; each is named by its section and its own name.
        section: What the current section is called.
    """

    results: Results
    section: str = ""

    def title(self, text: str, more: str = "") -> None:
        """Begin a section; what is printed behind its name may differ between runs."""
        self.section = text
        print(f"\n{text}{more}", flush=True)

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
        figure = Figure(f"{self.section}: {name}", mean, "share", high, note, low, room)
        self.results.keep(figure)
        _print_line(name, figure, se)
        return mean

    def end(self, file: Path | None) -> int:
        """Print the outcome and keep the figures; 1 if one fell short, else 0."""
        short = self.results.short
        print()
        if short:
            print(f"{len(short)} figures fell short: " + "; ".join(short))
        else:
            print("all figures within their bounds")
        return self.results.close(file)


def _print_line(name: str, figure: Figure, se: float) -> None:
    low, high = figure.least, figure.most
    wanted = f"{'' if low is None else low:>5} .. {'' if high is None else high:<5}"
    mark = "ok" if figure.good else "SHORT"
    if not figure.judged:
        wanted, mark = "", ""
    print(
        f"  {name:62} {figure.value:7.4f} ± {se:.4f}  {wanted:16} {mark:5} {figure.note}",
        flush=True,
    )
