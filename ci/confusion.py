"""Found against planted: how often the derived tables of the invented study say what is true of it.

    python ci/confusion.py RELEASE

RELEASE is a release of datasets/link-width, or any folder with ``data/stacks.csv``,
``derived/comparisons.csv`` and ``derived/factor_effects.csv``. What was planted is read from
tests/datasets/link-width-truth.toml.
"""

from __future__ import annotations

import csv
import importlib.util
import itertools
import math
import sys
import tomllib
from collections import Counter
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from types import ModuleType

ROOT = Path(__file__).resolve().parents[1]
TRUTH = ROOT / "tests" / "datasets" / "link-width-truth.toml"
STUDY = ROOT / "datasets" / "link-width"

DIRECTIONS = ("loss", "gain", "not_shown", "no verdict")
SIZES = ("material", "immaterial", "unsettled", "no verdict")
DEPENDENCES = ("depends", "not shown", "not estimable")
MAGNITUDES = ("nothing planted", "within the material change", "beyond it")

Row = dict[str, str]
CrossKey = tuple[str, ...]


@dataclass(frozen=True)
class Confusion:
    """How many rows were found as what, by what was planted.

    Attributes:
        title: What is counted.
        planted: Names of the rows, in order.
        found: Names of the columns, in order.
        counts: Count by (planted, found).
        named: Rows worth naming: false alarms and misses, each in a line.
    """

    title: str
    planted: tuple[str, ...]
    found: tuple[str, ...]
    counts: Mapping[tuple[str, str], int]
    named: tuple[str, ...]

    @property
    def text(self) -> str:
        """The counts as a table of plain text, the rows worth naming below."""
        wide = max(len(name) for name in self.planted)
        head = " " * wide + "".join(f"{name:>15}" for name in self.found)
        body = [
            f"{row:<{wide}}"
            + "".join(f"{self.counts.get((row, name), 0):>15}" for name in self.found)
            for row in self.planted
        ]
        return "\n".join([self.title, head, *body, *(f"  {line}" for line in self.named)])


def confusion_tables(
    comparisons: Sequence[Row],
    effects: Sequence[Row],
    planted: Sequence[Any],
    material_change_pct: float,
) -> tuple[Confusion, Confusion, Confusion]:
    """Hold comparisons and factor effects against what was planted.

    Args:
        comparisons: Rows of the derived table of that name, as text; blank cells are empty.
        effects: Rows of ``factor_effects``, likewise.
        planted: Planted effects; none of them for a null study.
        material_change_pct: The study's material change.

    Returns:
        Three tables: directions, sizes, and on what the change depends.
    """

    def change(row: Row) -> float:
        return planted_of(row, planted)

    return (
        directions(comparisons, change),
        sizes(comparisons, change, material_change_pct),
        dependences(comparisons, effects, planted, material_change_pct),
    )


def planted_of(row: Mapping[str, str], planted: Sequence[Any]) -> float:
    """Give the planted change of a comparison in per cent."""
    names = ("platform", "card", "workload", "resolution")
    held = (row[name] for name in names)
    cell = _neighbour().Cell(*held, level=row["to_level"], driver=row.get("driver", ""))
    return float(_neighbour().planted_change_pct(planted, cell, row["metric"]))


def directions(comparisons: Iterable[Row], change: Callable[[Row], float]) -> Confusion:
    """Count the directions found by the direction planted; a wrong direction is named."""
    names = {-1: "loss", 0: "nothing planted", 1: "gain"}
    counts: Counter[tuple[str, str]] = Counter()
    named = []
    for row in comparisons:
        true = change(row)
        was = names[(true > 0) - (true < 0)]
        found = "no verdict" if row["no_verdict"] else row["direction"]
        counts[was, found] += 1
        if found in {"loss", "gain"} and found != was:
            named.append(f"{_place(row)}: planted {true:+.1f} %, found {found} {_interval(row)}")
    title = "Direction of each change (rows: planted, columns: found)"
    return Confusion(title, tuple(names.values()), DIRECTIONS, counts, tuple(named))


def sizes(comparisons: Iterable[Row], change: Callable[[Row], float], material: float) -> Confusion:
    """Count the sizes found by the size planted; a settled wrong size is named."""
    counts: Counter[tuple[str, str]] = Counter()
    named = []
    for row in comparisons:
        true = change(row)
        was = magnitude(true, material)
        found = "no verdict" if row["no_verdict"] else row["size"]
        counts[was, found] += 1
        if found == ("immaterial" if was == MAGNITUDES[2] else "material"):
            named.append(f"{_place(row)}: planted {true:+.1f} %, found {found} {_interval(row)}")
    title = f"Size of each change against {material:g} % (rows: planted, columns: found)"
    return Confusion(title, MAGNITUDES, SIZES, counts, tuple(named))


def dependences(
    comparisons: Sequence[Row], effects: Iterable[Row], planted: Sequence[Any], material: float
) -> Confusion:
    """Count on what changes depend by what was planted; false alarms and misses are named."""
    crosses = planted_crosses(comparisons, planted)
    counts: Counter[tuple[str, str]] = Counter()
    named = []
    for row in effects:
        extent = planted_extents(crosses[cross_key(row)])[row["factor"]]
        was = magnitude(extent, material)
        found = dependence(row)
        counts[was, found] += 1
        if (found == "depends") != (was == MAGNITUDES[2]) and found != "not estimable":
            named.append(
                f"{row['contributor']} {row['workload']} {row['resolution']} {row['contrast']} "
                f"{row['metric']}, {row['factor']}: planted extent {extent:.1f} %, found {found}, "
                f"extent {float(row['extent_pct']):.1f} %"
            )
    title = f"On what the change depends, extent against {material:g} % (rows: planted)"
    return Confusion(title, MAGNITUDES, DEPENDENCES, counts, tuple(named))


def magnitude(change_pct: float, material: float) -> str:
    """Say whether a planted change is none, within the material change or beyond it."""
    size = abs(change_pct)
    return MAGNITUDES[0 if math.isclose(size, 0, abs_tol=1e-9) else 1 if size <= material else 2]


def dependence(row: Row) -> str:
    """Say what a row of factor_effects found."""
    if row["not_estimable"]:
        return "not estimable"
    return "depends" if row["depends"] == "true" else "not shown"


def cross_key(row: Mapping[str, str]) -> CrossKey:
    """Give what a comparison and a row of factor effects of the same cross share."""
    names = ("contributor", "workload", "resolution", "contrast", "metric")
    return tuple(row[name] for name in names)


def planted_crosses(
    comparisons: Iterable[Row], planted: Sequence[Any]
) -> dict[CrossKey, list[list[float]]]:
    """Give the planted ln changes of each cross, platforms × cards that were compared in it.

    A rig that was measured on two drivers is in the cross with its latest.
    """
    rows: dict[CrossKey, list[Row]] = {}
    for row in comparisons:
        if row.get("current") != "false":
            rows.setdefault(cross_key(row), []).append(row)
    return {key: _grid(held, planted) for key, held in rows.items()}


def _grid(rows: Sequence[Row], planted: Sequence[Any]) -> list[list[float]]:
    platforms, cards = (sorted({row[name] for row in rows}) for name in ("platform", "card"))
    drivers = {(row["platform"], row["card"]): row.get("driver", "") for row in rows}
    return [
        [
            math.log1p(planted_of(_moved(rows[0], platform, card, drivers), planted) / 100)
            for card in cards
        ]
        for platform in platforms
    ]


def _moved(row: Row, platform: str, card: str, drivers: Mapping[tuple[str, str], str]) -> Row:
    driver = drivers.get((platform, card), "")
    return {**row, "platform": platform, "card": card, "driver": driver}


def planted_extents(grid: Sequence[Sequence[float]]) -> dict[str, float]:
    """Give the planted extent of each factor in per cent: largest minus smallest effect.

    Effects are those of the two-way decomposition of ln changes: mean of a platform, mean of a
    card, and what is left when both and the grand mean are taken out.
    """
    by_platform = [_mean(row) for row in grid]
    by_card = [_mean(column) for column in zip(*grid, strict=True)]
    grand = _mean(by_platform)
    left = [
        grid[i][j] - by_platform[i] - by_card[j] + grand
        for i, j in itertools.product(range(len(by_platform)), range(len(by_card)))
    ]
    effects = {"platform": by_platform, "card": by_card, "platform_card": left}
    return {name: 100 * math.expm1(max(held) - min(held)) for name, held in effects.items()}


def _mean(values: Sequence[float]) -> float:
    return math.fsum(values) / len(values)


def _place(row: Row) -> str:
    return f"{row['rig']} {row['workload']} {row['resolution']} {row['contrast']} {row['metric']}"


def _interval(row: Row) -> str:
    low, high = float(row["low_95_pct"]), float(row["high_95_pct"])
    return f"{float(row['change_pct']):+.1f} % ({low:+.1f} to {high:+.1f})"


def _neighbour() -> ModuleType:
    """Load the module that knows planted effects; it belongs to the study, not to a package."""
    name = "link_width_planted"
    if name not in sys.modules:
        spec = importlib.util.spec_from_file_location(name, STUDY / "planted.py")
        if spec is None or spec.loader is None:
            raise ModuleNotFoundError(name)
        module = importlib.util.module_from_spec(spec)
        sys.modules[name] = module
        spec.loader.exec_module(module)
    return sys.modules[name]


def read_rows(path: Path) -> list[Row]:
    """Read a published table as text."""
    with path.open(encoding="utf-8", newline="") as stream:
        return list(csv.DictReader(stream))


def of_release(release: Path, truth: Path = TRUTH) -> tuple[Confusion, Confusion, Confusion]:
    """Hold a release of the invented study against its truth file."""
    study = tomllib.loads((STUDY / "study.toml").read_text(encoding="utf-8"))["study"]
    return confusion_tables(
        _with_drivers(release),
        read_rows(release / "derived" / "factor_effects.csv"),
        _neighbour().read_planted(truth),
        float(study["material_change_pct"]),
    )


def _with_drivers(release: Path) -> list[Row]:
    """Give the comparisons with the driver of each one's stack, where the release says it."""
    stacks = release / "data" / "stacks.csv"
    drivers = {row["stack"]: row["driver_version"] for row in read_rows(stacks)}
    rows = read_rows(release / "derived" / "comparisons.csv")
    return [row | {"driver": drivers.get(row["stack"], "")} for row in rows]


def main() -> None:
    """Print the three tables for a release."""
    if len(sys.argv) != 2:
        raise SystemExit("usage: python ci/confusion.py RELEASE")
    for table in of_release(Path(sys.argv[1])):
        print(table.text, end="\n\n")


if __name__ == "__main__":
    main()
