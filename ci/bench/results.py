"""Results of a benchmark: figures beside their bounds, printed as they come, and kept as JSON."""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import time
from dataclasses import asdict, dataclass, field
from importlib.metadata import version
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable

_LIBRARIES = ("duckdb", "numpy", "polars", "scipy", "pandas", "frictionless", "great-expectations")


@dataclass(frozen=True)
class Figure:
    """One measured figure.

    Attributes:
        name: What it is; the same in every run, by which runs are compared.
        value: What was measured.
        unit: ``s``, ``x`` (times a baseline of the same run), or another.
        most: What it must not exceed; None for a figure that is reported only.
        note: What it was measured beside.
    """

    name: str
    value: float
    unit: str
    most: float | None = None
    note: str = ""

    @property
    def good(self) -> bool:
        """Whether it keeps its bound."""
        return self.most is None or self.value <= self.most


@dataclass
class Results:
    """Figures of one run of a benchmark."""

    benchmark: str
    quick: bool
    figures: list[Figure] = field(default_factory=list)

    def add(
        self, name: str, value: float, unit: str, most: float | None = None, note: str = ""
    ) -> None:
        """Take a figure and print it beside its bound."""
        figure = Figure(name, value, unit, most, note)
        self.figures.append(figure)
        bound = "" if most is None else f"at most {most:g} {unit}"
        mark = "" if most is None else "ok" if figure.good else "SHORT"
        print(f"  {name:58} {value:9.3f} {unit:2} {bound:16} {mark:5} {note}", flush=True)

    def end(self, file: Path | None) -> int:
        """Keep the figures where a file is named; 1 where one falls short, else 0."""
        if file is not None:
            held = {
                "benchmark": self.benchmark,
                "quick": self.quick,
                "machine": {"processors": os.cpu_count(), "system": platform.platform()},
                "versions": {
                    "python": platform.python_version(),
                    **{name: version(name) for name in _LIBRARIES},
                },
                "figures": [asdict(figure) for figure in self.figures],
            }
            file.write_text(json.dumps(held, indent=2) + "\n", encoding="utf-8")
        short = [figure.name for figure in self.figures if not figure.good]
        print(f"{len(short)} figures fall short: {'; '.join(short)}" if short else "all as asked")
        return 1 if short else 0


@dataclass(frozen=True)
class Asked:
    """What was asked for on the command line."""

    quick: bool
    json: Path | None


def asked(about: str | None, quick: str) -> Asked:
    """Read the options that every such benchmark has.

    Args:
        about: What the benchmark shows.
        quick: What ``--quick`` leaves out.
    """
    parser = argparse.ArgumentParser(
        description=about, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help=quick)
    parser.add_argument("--json", type=Path, metavar="FILE", help="keep the figures in a file")
    held = parser.parse_args()
    return Asked(held.quick, held.json)


def seconds(action: Callable[[], object], times: int = 1) -> float:
    """Give the wall time of the fastest of some runs of an action."""
    best = float("inf")
    for _ in range(times):
        start = time.perf_counter()
        action()
        best = min(best, time.perf_counter() - start)
    return best


PYTHON = sys.executable
