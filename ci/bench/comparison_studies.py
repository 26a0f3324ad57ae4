"""Simulated studies for the benchmark of comparisons: runs drawn from a law that is known."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Literal

import numpy as np

from rigledger.statistics.comparisons import CellArrays, PairArrays, RunArrays

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]
    IntArray = NDArray[np.int64]

MEDIAN_SD = 0.01
BASE = float(np.log(100.0))
Errors = Literal["normal", "t4", "spoiled"]


@dataclass(frozen=True)
class Plan:
    """How a study is drawn; every comparison has its two cells side by side (0 and 1, 2 and 3...).

    Attributes:
        pairs, runs: comparisons, and runs a cell.
        between, within: sd of ln sigma between workloads (6 cells each) and within one.
        crossed: sds of ln sigma by rig, resolution and level on top (then 3 rigs, 2 resolutions).
        humps: distance of two humps of ln sigma within a workload.
        pass_share: share of the variance that the levels of a pass have in common.
        blocks: whether the analysis is told about the passes.
        change: true change of ln(value) in every comparison.
        errors: normal, Student's t with four degrees of freedom, or 5 % of runs spoiled.
        drift: fall from the first to the last pass, in run-to-run sds of the pair; it hits both
            levels alike.
        step, cap: reported step and highest value, in fps; 0 for none.
        median_sd: median run-to-run sd.
    """

    pairs: int = 108
    runs: int = 3
    between: float = 0.7
    within: float = 0.3
    crossed: tuple[float, float, float] = (0.0, 0.0, 0.0)
    humps: float = 0.0
    pass_share: float = 0.0
    blocks: bool = False
    change: float = 0.0
    errors: Errors = "normal"
    drift: float = 0.0
    step: float = 0.0
    cap: float = 0.0
    median_sd: float = MEDIAN_SD


@dataclass(frozen=True)
class Study:
    """A drawn study: what the analysis gets, and the truth."""

    runs: RunArrays
    cells: CellArrays
    pairs: PairArrays
    sd: FloatArray
    change: FloatArray
    factor_sd: dict[str, float] = field(default_factory=dict)
    residual_sd: float = 0.0


def draw(plan: Plan, rng: np.random.Generator, *, session: int = 0) -> Study:
    """Draw a study of one session in which each pass holds all cells."""
    factors, factor_sd = _factors(plan)
    sd = plan.median_sd * np.exp(_ln_sd(plan, factors, factor_sd, rng))
    change = np.full(plan.pairs, plan.change)
    runs = draw_runs(plan, sd, change, rng, session=session)
    pairs = PairArrays(np.arange(0, len(sd), 2), np.arange(1, len(sd), 2))
    cells = CellArrays(factors, np.zeros(len(sd), dtype=bool))
    return Study(runs, cells, pairs, sd, change, factor_sd, plan.within)


def _factors(plan: Plan) -> tuple[dict[str, IntArray], dict[str, float]]:
    cells = np.arange(2 * plan.pairs)
    if not any(plan.crossed):
        return {"workload": cells // 6}, {"workload": plan.between}
    factors = {
        "workload": cells // 12,
        "rig": cells // 4 % 3,
        "resolution": cells // 2 % 2,
        "level": cells % 2,
    }
    sds = (plan.between, *plan.crossed)
    return factors, dict(zip(factors, sds, strict=True))


def _ln_sd(
    plan: Plan,
    factors: dict[str, IntArray],
    factor_sd: dict[str, float],
    rng: np.random.Generator,
) -> FloatArray:
    cells = 2 * plan.pairs
    x = rng.normal(0.0, plan.within, cells)
    x += plan.humps * (rng.integers(0, 2, cells) - 0.5)
    for name, labels in factors.items():
        x += rng.normal(0.0, factor_sd[name], int(labels.max()) + 1)[labels]
    return x


def draw_runs(
    plan: Plan,
    sd: FloatArray,
    change: FloatArray,
    rng: np.random.Generator,
    *,
    session: int = 0,
    pairs: IntArray | None = None,
) -> RunArrays:
    """Runs of one session; only of some pairs, if those are named."""
    cells, n = len(sd), plan.runs
    error = np.sqrt(1.0 - plan.pass_share) * _errors(plan, (cells, n), rng)
    common = np.repeat(rng.normal(size=(cells // 2, n)), 2, axis=0)
    error += np.sqrt(plan.pass_share) * common
    together = np.repeat(np.sqrt(0.5 * (sd[::2] ** 2 + sd[1::2] ** 2)), 2)
    fall = plan.drift * together[:, None] * np.linspace(0.0, 1.0, n)
    centre = np.zeros(cells)
    centre[1::2] = change
    fps = np.exp(_bases(plan, cells) + centre[:, None] + sd[:, None] * error - fall)
    kept = np.arange(cells) if pairs is None else np.sort(np.append(2 * pairs, 2 * pairs + 1))
    fps = _report(plan, fps[kept])
    rows = len(kept) * n
    return RunArrays(
        value=fps.reshape(-1),
        cell=np.repeat(kept, n),
        session=np.full(rows, session),
        round=np.full(rows, session),
        pass_index=np.tile(np.arange(n), len(kept)) if plan.blocks else np.full(rows, -1),
        reported_step=np.full(rows, plan.step),
    )


def _bases(plan: Plan, cells: int) -> FloatArray:
    """Level of each cell, the same for both levels of a pair; capped titles sit near the cap."""
    if plan.cap:
        near = np.where(np.arange(cells // 2) % 2 == 0, plan.cap, 0.8 * plan.cap)
        return np.log(np.repeat(near, 2))[:, None]
    spread = np.linspace(-0.5, 0.5, cells // 2)
    return (BASE + np.repeat(spread, 2))[:, None]


def _errors(plan: Plan, shape: tuple[int, int], rng: np.random.Generator) -> FloatArray:
    if plan.errors == "t4":
        return rng.standard_t(4, shape) / np.sqrt(2.0)
    error = rng.normal(size=shape)
    if plan.errors == "spoiled":
        error -= (rng.random(shape) < 0.05) * rng.uniform(5.0, 15.0, shape)
    return error


def _report(plan: Plan, fps: FloatArray) -> FloatArray:
    if plan.cap:
        fps = np.minimum(fps, plan.cap)
    if plan.step:
        fps = np.maximum(np.round(fps / plan.step), 1.0) * plan.step
    return fps


def join(first: RunArrays, second: RunArrays) -> RunArrays:
    """Runs of two sessions together."""
    names = ("value", "cell", "session", "round", "pass_index", "reported_step")
    return RunArrays(*(np.concatenate((getattr(first, k), getattr(second, k))) for k in names))
