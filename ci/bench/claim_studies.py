"""Simulated studies as the rows that claims are held against, with what is true of each cell.

The rows come from the pipeline's own statistics, fed with drawn runs: comparisons from `analyse`,
geometric means from `overall_change`, dependence from `factor_effects` with its false discovery
rate, differences between rigs from the cells' intervals.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np
from session_studies import SessionPlan, draw_sessions
from simulated_cells import Law, Study, analysis_of, draw

from rigledger.claims.evidence import Evidence
from rigledger.statistics.comparisons import Settings, analyse
from rigledger.statistics.factor_effects import factor_effects
from rigledger.statistics.geometric_mean import overall_change
from rigledger.statistics.multiplicity import benjamini_hochberg
from rigledger.statistics.small_sample import matched_student

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from numpy.typing import NDArray

    from rigledger.statistics.outputs import Analysis

    FloatArray = NDArray[np.float64]

DELTA = 3.0
FPS = 100.0
CONTRAST, METRIC, RESOLUTION, LEVELS = "on-off", "average_fps", "1920x1080", ("off", "on")
_SAME: dict[str, Any] = {
    "stack": "one", "title_build": "1", "resolution": RESOLUTION, "metric": METRIC,
    "contributor": "sim",
}  # fmt: skip


@dataclass(frozen=True)
class World:
    """What is true.

    Attributes:
        change_pct: True change by workload and rig, shape (workloads, rigs).
        rigs_ln: ln of each rig's frame rate, shape (rigs,).
        platforms, cards: their numbers; rigs are platforms x cards.
    """

    change_pct: FloatArray
    rigs_ln: FloatArray
    platforms: int = 4
    cards: int = 2

    @property
    def rigs(self) -> list[str]:
        """Names of the rigs."""
        return [f"sim.p{n // self.cards}-c{n % self.cards}" for n in range(len(self.rigs_ln))]

    def of(self, title: str, rig: str) -> float:
        """Give the true change of a workload on a rig, in per cent."""
        return float(self.change_pct[int(title.removeprefix("w")), self.rigs.index(rig)])


def workload(number: int) -> str:
    """Name a workload."""
    return f"w{number}"


def simulate(
    rng: np.random.Generator, law: Law, world: World, title_sets: Mapping[str, tuple[str, ...]]
) -> Evidence:
    """Draw a study, levels side by side in one session, and give what its tables hold."""
    null = draw(rng, law, np.log(FPS) + np.tile(world.rigs_ln, (law.workloads, 1)))
    moved = np.log1p(world.change_pct[null.workload, null.rig] / 100) * (null.level == 1)
    study = Study(
        null.fps * np.exp(moved)[:, None], null.sigma, null.workload, null.rig, null.level, 0.0
    )
    found = analysis_of(study)
    pairs = [(int(w), int(r)) for w, r in zip(study.workload[::2], study.rig[::2], strict=True)]
    changes = _changes(found, pairs, world)
    ln = (found.cells.geometric_mean, found.cells.low95, found.cells.high95)
    return _evidence(world, changes, title_sets, law.workloads, _values(study, ln, world))


def simulate_sessions(rng: np.random.Generator, plan: SessionPlan, world: World) -> Evidence:
    """Draw a study whose levels need sessions of their own."""
    null = draw_sessions(plan, rng)
    pairs = [
        (int(null.cells.factors["workload"][cell]), int(null.cells.factors["rig"][cell]))
        for cell in null.pairs.from_cell
    ]
    change = np.log1p([world.change_pct[place] / 100 for place in pairs])
    by_cell = np.zeros(len(null.cells.sentinel))
    by_cell[null.pairs.to_cell] = change
    runs = null.runs
    moved = type(runs)(
        runs.value * np.exp(by_cell[runs.cell]), runs.cell, runs.session, runs.round,
        runs.pass_index, runs.reported_step,
    )  # fmt: skip
    found = analyse(moved, null.cells, null.pairs, Settings())
    return _evidence(world, _changes(found, pairs, world), {}, plan.workloads, [])


def _evidence(
    world: World,
    changes: list[dict[str, Any]],
    title_sets: Mapping[str, tuple[str, ...]],
    workloads: int,
    values: list[dict[str, Any]],
) -> Evidence:
    names = frozenset(workload(n) for n in range(workloads))
    return Evidence(
        changes=changes,
        unmeasured=[],
        overall=list(_overall(changes, title_sets)),
        factors=_factors(changes, world),
        rigs=list(_rig_differences(values, world)),
        values=values,
        material_change_pct=DELTA,
        better={METRIC: "higher"},
        title_sets=title_sets,
        can_act=names,
        levels={CONTRAST: LEVELS},
        baseline=LEVELS[0],
    )


def _changes(found: Analysis, pairs: list[tuple[int, int]], world: World) -> list[dict[str, Any]]:
    c = found.comparisons
    rows = []
    for at, (title, rig) in enumerate(pairs):
        rows.append(
            _SAME
            | _place(world, rig)
            | {
                "workload": workload(title), "contrast": CONTRAST, "ln": float(c.ln_change[at]),
                "change_pct": float(c.change_pct[at]), "low_95_pct": float(c.low95[at]),
                "high_95_pct": float(c.high95[at]), "high_90_pct": float(c.high90[at]),
                "high_decision_pct": float(c.high_decision[at]), "size": str(c.size[at]),
                "no_verdict": None, "stale": False,
            }
        )  # fmt: skip
    return rows


def _place(world: World, rig: int) -> dict[str, str]:
    name = world.rigs[rig]
    platform, card = name.removeprefix("sim.").split("-")
    return {"rig": name, "platform": platform, "card": card}


def _student(rows: list[dict[str, Any]]) -> tuple[FloatArray, FloatArray, FloatArray]:
    ln = np.array([row["ln"] for row in rows])
    high_90, high_95 = (
        np.log1p(np.array([row[name] for row in rows]) / 100)
        for name in ("high_90_pct", "high_95_pct")
    )
    return ln, *matched_student(high_90 - ln, high_95 - ln)


def _overall(
    changes: list[dict[str, Any]], title_sets: Mapping[str, tuple[str, ...]]
) -> Iterator[dict[str, Any]]:
    for name, titles in title_sets.items():
        for rig in dict.fromkeys(row["rig"] for row in changes):
            rows = [r for r in changes if r["rig"] == rig and r["workload"] in titles]
            ln, variance, df = _student(rows)
            mean = overall_change(ln, np.sqrt(variance), df)
            kept = ("rig", "platform", "card", "contributor", "resolution", "metric", "contrast")
            yield {key: rows[0][key] for key in kept} | {
                "title_set": name, "titles": len(rows), "titles_missing": 0,
                "titles_used": " ".join(titles), "change_pct": mean.change_pct,
                "these_low_95_pct": mean.these_titles.lower,
                "these_high_95_pct": mean.these_titles.upper,
            }  # fmt: skip


def _factors(changes: list[dict[str, Any]], world: World) -> list[dict[str, Any]]:
    titles = list(dict.fromkeys(row["workload"] for row in changes))
    by_place = {(row["workload"], row["rig"]): row for row in changes}
    ordered = [by_place[title, rig] for title in titles for rig in world.rigs]
    shape = (len(titles), world.platforms, world.cards)
    grids = (held.reshape(shape) for held in _student(ordered))
    found = factor_effects(*grids, material_change_pct=DELTA)
    rows = [
        {
            "contributor": "sim", "workload": title, "resolution": RESOLUTION,
            "contrast": CONTRAST, "metric": METRIC, "factor": factor, "p": effect.p,
            "extent_pct": effect.extent_pct, "extent_low_95_pct": effect.extent_low_pct,
            "extent_high_95_pct": effect.extent_high_pct, "place": None, "not_estimable": None,
        }
        for title, effects in zip(titles, found, strict=True)
        for factor, effect in (
            ("platform", effects.platform), ("card", effects.card),
            ("platform_card", effects.platform_x_card),
        )
        if effect is not None
    ]  # fmt: skip
    q = benjamini_hochberg([row["p"] for row in rows])
    return [
        row | {"q": float(one), "depends": bool(one <= 0.05 and row["extent_pct"] > DELTA)}
        for row, one in zip(rows, q, strict=True)
    ]


def _values(
    study: Study, ends: tuple[FloatArray, FloatArray, FloatArray], world: World
) -> list[dict[str, Any]]:
    mean, low, high = ends
    return [
        _SAME
        | _place(world, int(study.rig[at]))
        | {
            "workload": workload(int(study.workload[at])), "level": LEVELS[int(study.level[at])],
            "unit": "fps", "geometric_mean": float(mean[at]), "low_95": float(low[at]),
            "high_95": float(high[at]),
        }
        for at in range(study.cells)
    ]  # fmt: skip


def _rig_differences(values: list[dict[str, Any]], world: World) -> Iterator[dict[str, Any]]:
    """Give differences over shared titles, intervals as in ``work.shared_titles`` (MOVER)."""
    if not values:
        return
    baseline = [row for row in values if row["level"] == LEVELS[0]]
    ln, below, above = {}, {}, {}
    for rig in world.rigs:
        rows = [row for row in baseline if row["rig"] == rig]
        mean, low, high = (
            np.log([row[name] for row in rows]) for name in ("geometric_mean", "low_95", "high_95")
        )
        ln[rig] = mean
        below[rig], above[rig] = (mean - low) ** 2, (high - mean) ** 2
    for one, other in combinations(world.rigs, 2):
        count = len(ln[one])
        middle = float((ln[other] - ln[one]).mean())
        down = float(np.sqrt((below[other] + above[one]).sum())) / count
        up = float(np.sqrt((above[other] + below[one]).sum())) / count
        difference, low, high = 100 * np.expm1([middle, middle - down, middle + up])
        yield {
            "from_rig": one, "to_rig": other, "workload": "all-shared", "resolution": RESOLUTION,
            "level": LEVELS[0], "metric": METRIC, "contributor": "sim", "differs_in": None,
            "difference_pct": float(difference), "low_95_pct": float(low),
            "high_95_pct": float(high),
        }  # fmt: skip
