"""Results of a benchmark: figures beside their bounds, printed as they come, and kept as JSON."""

from __future__ import annotations

import argparse
import contextlib
import json
import math
import os
import platform
import sys
import time
from dataclasses import asdict, dataclass, field
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

_LIBRARIES = (
    "duckdb",
    "numpy",
    "polars",
    "scipy",
    "pandas",
    "frictionless",
    "great-expectations",
    "pyspark",
)


@dataclass(frozen=True)
class Figure:
    """One measured figure.

    Attributes:
        name: What it is; the same in every run, by which runs are compared.
        value: What was measured.
        unit: ``s``, ``x`` (times a baseline of the same run), ``share``, ``count``, ``yes`` (one
            for yes, zero for no), or another.
        most: What it must not exceed.
        note: What it was measured beside.
        least: What it must reach. Without either bound a figure is reported only.
        room: By how much it may miss a bound, for the error of a simulation.
    """

    name: str
    value: float
    unit: str
    most: float | None = None
    note: str = ""
    least: float | None = None
    room: float = 0.0

    @property
    def judged(self) -> bool:
        """Whether anything is asked of it."""
        return self.most is not None or self.least is not None

    @property
    def good(self) -> bool:
        """Whether it keeps its bounds."""
        below = self.most is None or self.value <= self.most + self.room
        above = self.least is None or self.value >= self.least - self.room
        return below and above

    @property
    def held(self) -> dict[str, str | float | bool | None]:
        """Its parts as they are kept in a file, and whether it was as asked."""
        return asdict(self) | {"met": self.good if self.judged else None}


@dataclass
class Results:
    """Figures of one run of a benchmark."""

    benchmark: str
    quick: bool
    figures: list[Figure] = field(default_factory=list)

    @property
    def short(self) -> list[str]:
        """Names of the figures that miss their bounds."""
        return [figure.name for figure in self.figures if not figure.good]

    def keep(self, figure: Figure) -> bool:
        """Take a figure without printing it; gives whether it keeps its bounds.

        Raises:
            ValueError: another one of this run has its name.
        """
        if any(figure.name == other.name for other in self.figures):
            raise ValueError(f"two figures are called {figure.name!r}")
        self.figures.append(figure)
        return figure.good

    def report(self, unit: str, figures: Mapping[str, float]) -> None:
        """Take figures of one unit that nothing is asked of, by name, without printing them."""
        for name, value in figures.items():
            self.keep(Figure(name, value, unit))

    def add(
        self, name: str, value: float, unit: str, most: float | None = None, note: str = ""
    ) -> None:
        """Take a figure and print it beside its bound."""
        good = self.keep(Figure(name, value, unit, most, note))
        bound = "" if most is None else f"at most {most:g} {unit}"
        mark = "" if most is None else "ok" if good else "SHORT"
        print(f"  {name:58} {value:9.3f} {unit:2} {bound:16} {mark:5} {note}", flush=True)

    def close(self, file: Path | None) -> int:
        """Keep the figures where a file is named; 1 where one falls short, else 0."""
        if file is not None:
            held = {
                "benchmark": self.benchmark,
                "quick": self.quick,
                "machine": {"processors": os.cpu_count(), "system": platform.platform()},
                "versions": {"python": platform.python_version(), **_versions()},
                "figures": [figure.held for figure in self.figures],
            }
            file.write_text(json.dumps(held, indent=2) + "\n", encoding="utf-8")
        return 1 if self.short else 0

    def end(self, file: Path | None) -> int:
        """Print which figures fall short, and close."""
        short = self.short
        print(f"{len(short)} figures fall short: {'; '.join(short)}" if short else "all as asked")
        return self.close(file)


def _versions() -> dict[str, str]:
    """Give the versions of the libraries that are there."""
    found = {}
    for name in _LIBRARIES:
        with contextlib.suppress(PackageNotFoundError):
            found[name] = version(name)
    return found


@dataclass(frozen=True)
class Asked:
    """What was asked for on the command line."""

    quick: bool
    json: Path | None


def options(about: str | None, quick: str) -> argparse.ArgumentParser:
    """Give a parser of the options that every benchmark has, for one that has others, too.

    Args:
        about: What the benchmark shows.
        quick: What ``--quick`` leaves out.
    """
    parser = argparse.ArgumentParser(
        description=about, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--quick", action="store_true", help=quick)
    parser.add_argument("--json", type=Path, metavar="FILE", help="keep the figures in a file")
    return parser


def asked(about: str | None, quick: str) -> Asked:
    """Read the options that every benchmark has."""
    held = options(about, quick).parse_args()
    return Asked(held.quick, held.json)


def seconds(action: Callable[[], object], times: int = 1) -> float:
    """Give the wall time of the fastest of some runs of an action."""
    shortest = math.inf
    for _ in range(times):
        start = time.perf_counter()
        action()
        shortest = min(shortest, time.perf_counter() - start)
    return shortest


@dataclass
class Spent:
    """Shortest times in seconds: by the wall clock, and of the processors together."""

    wall: float = math.inf
    processor: float = math.inf

    def take(self, wall: float, processor: float) -> None:
        """Take one more measurement."""
        self.wall = min(self.wall, wall)
        self.processor = min(self.processor, processor)


def best(*works: Callable[[], object], times: int = 3) -> list[Spent]:
    """Give the shortest times of each; they take turns, so that load hits all alike."""
    found = [Spent() for _ in works]
    for _ in range(times):
        for place, work in enumerate(works):
            start = time.perf_counter(), time.process_time()
            work()
            found[place].take(time.perf_counter() - start[0], time.process_time() - start[1])
    return found


PYTHON = sys.executable
