"""Simulated studies that are re-tested after a change: which cells moved is known."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from rigledger.audit.decide import Decision, Tested, decide
from rigledger.audit.frame import SPREADS, Frame, FrameCell
from rigledger.audit.plan import RANDOM, Asked, RetestPlan, candidate_limits, make_plan
from rigledger.statistics.comparisons import CellArrays, PairArrays, RunArrays, Settings, fit
from rigledger.statistics.detection import Retest, detection_power, power_at_spread
from rigledger.statistics.spread_data import sort_runs
from rigledger.statistics.stack_shift import AskedShifts, ShiftArrays, stack_shifts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from rigledger.statistics.pair_laws import Fitted

    FloatArray = NDArray[np.float64]
    IntArray = NDArray[np.int64]
    BoolArray = NDArray[np.bool_]

SETTINGS = Settings()
TOLERATED_PCT = 15.0
NO_PAIRS = PairArrays(np.array([], dtype=np.int64), np.array([], dtype=np.int64))


@dataclass(frozen=True)
class World:
    """How a study is drawn.

    Attributes:
        rigs, titles, resolutions: its size; two levels, each in boots of its own; titles spread by
            0.5, 2 and 5 % in turn, or as `spreads` says.
        spreads: run-to-run spreads of the titles, in per cent, in turn.
        scatter: sd of ln spread of the cells about their title's; the titles' own is 0.1.
        common: share of a boot's shift that all its cells have in common.
        shift: true shift of ln of the cells that moved, up or down.
        moved: which move: none, one_title, one_rig, scattered (a share of all), or a few.
        share: share of cells that moved, where they are scattered.
    """

    rigs: int = 4
    titles: int = 9
    resolutions: int = 2
    spreads: tuple[float, ...] = SPREADS
    scatter: float = 0.15
    common: float = 0.0
    shift: float = float(np.log1p(0.05))
    moved: str = "none"
    share: float = 0.0


@dataclass(frozen=True)
class Drawn:
    """A drawn study. Cells are numbered; the same cell on the new stack is `cells` further on.

    Attributes:
        factors: labels by factor, shapes (cells,).
        sd, omega: run-to-run and session-to-session sd of each cell.
        moved: which cells moved.
        old: runs on the old stack, as rows of (cell, session, round, ln value).
    """

    world: World
    factors: dict[str, IntArray]
    sd: FloatArray
    omega: FloatArray
    moved: BoolArray
    shift: FloatArray
    old: FloatArray

    @property
    def cells(self) -> int:
        """How many cells there are on each stack."""
        return len(self.sd)


def draw_study(world: World, rng: np.random.Generator) -> Drawn:
    """Draw a study: three runs a cell on the old stack, two boots of each level, then a change."""
    shape = (world.titles, world.rigs, world.resolutions, 2)
    workload, rig, resolution, level = (grid.reshape(-1) for grid in np.indices(shape))
    factors = {"workload": workload, "rig": rig, "resolution": resolution, "level": level}
    count = len(workload)
    middle = np.array(world.spreads)[workload % len(world.spreads)] / 100.0
    scatter = rng.normal(0, 0.1, world.titles)[workload] + rng.normal(0, world.scatter, count)
    sd = middle * np.exp(scatter)
    absolute = np.exp(rng.normal(np.log(0.004), 0.4))
    ratio = np.exp(rng.normal(np.log(0.5), 0.4))
    omega = np.hypot(absolute, ratio * sd) * np.exp(rng.normal(0, 0.35, count))
    moved = _moved(world, factors, rng)
    shift = world.shift * moved * rng.choice([-1.0, 1.0], count)
    held = Drawn(world, factors, sd, omega, moved, shift, np.zeros((0, 4)))
    rounds = [_boots(held, rng, number, runs) for number, runs in ((0, 2), (1, 1))]
    return replace(held, old=np.concatenate(rounds))


def _moved(world: World, factors: dict[str, IntArray], rng: np.random.Generator) -> BoolArray:
    if world.moved == "one_title":
        return np.asarray(factors["workload"] == rng.integers(world.titles))
    if world.moved == "one_rig":
        return np.asarray(factors["rig"] == rng.integers(world.rigs))
    count = len(factors["rig"])
    chosen = np.zeros(count, dtype=bool)
    if world.moved == "scattered":
        chosen[rng.permutation(count)[: round(world.share * count)]] = True
    return chosen


def _boots(
    held: Drawn, rng: np.random.Generator, number: int, runs: int, *, new: bool = False
) -> FloatArray:
    """Runs of all cells in one boot of each rig and level."""
    boot = held.factors["rig"] * 2 + held.factors["level"]
    own = rng.normal(size=held.cells) * np.sqrt(1 - held.world.common)
    whole = rng.normal(size=boot.max() + 1)[boot] * np.sqrt(held.world.common)
    centre = held.omega * (own + whole) + (held.shift if new else 0.0)
    cell = np.repeat(np.arange(held.cells), runs)
    y = centre[cell] + held.sd[cell] * rng.normal(size=len(cell))
    session = boot[cell] + (boot.max() + 1) * (2 if new else number)
    place = cell + (held.cells if new else 0)
    return np.stack((place, session, np.full(len(cell), 0 if new else number), y), axis=1)


def run_arrays(rows: FloatArray) -> RunArrays:
    """Turn rows of (cell, session, round, ln value) into the arrays of the statistics."""
    whole = rows[:, :3].astype(np.int64)
    return RunArrays(
        value=100.0 * np.exp(rows[:, 3]),
        cell=whole[:, 0],
        session=whole[:, 1],
        round=whole[:, 2],
        pass_index=np.full(len(rows), -1),
        reported_step=np.zeros(len(rows)),
    )


def fitted_before(held: Drawn) -> Fitted:
    """Fit the models on the old stack alone, as a plan does."""
    cells = CellArrays(held.factors, np.zeros(held.cells, dtype=bool))
    return fit(sort_runs(run_arrays(held.old), held.cells), cells, SETTINGS)


def retested(held: Drawn, rng: np.random.Generator, chosen: IntArray, runs: int = 3) -> ShiftArrays:
    """Re-test some cells in one boot a rig and level, and judge their shifts."""
    new = _boots(held, rng, 0, runs, new=True)
    new = new[np.isin(new[:, 0] - held.cells, chosen)]
    both = {name: np.concatenate((labels, labels)) for name, labels in held.factors.items()}
    cells = CellArrays(both, np.zeros(2 * held.cells, dtype=bool))
    pairs = PairArrays(chosen, chosen + held.cells)
    runs_of_both = run_arrays(np.concatenate((held.old, new)))
    return stack_shifts(runs_of_both, cells, AskedShifts(pairs, NO_PAIRS, NO_PAIRS), SETTINGS).cells


@dataclass(frozen=True)
class Audited:
    """A plan, its results, and the truth.

    Attributes:
        plan: the plan.
        tested: positions of the drawn cells.
        shifts: their shifts.
        frame: the whole frame as tested.
        decision: what follows.
        carried: positions of the cells that the bound speaks of.
    """

    plan: RetestPlan
    tested: IntArray
    shifts: ShiftArrays
    frame: tuple[Tested, ...]
    decision: Decision
    carried: IntArray


def plan_of(held: Drawn, draws: int, seed: str, runs: int = 3) -> RetestPlan:
    """Make the plan that the command makes, from the fitted models."""
    asked = Asked("average_fps", runs, 1, seed, tolerated_pct=TOLERATED_PCT)
    limits = candidate_limits(draws, asked.alarm_rate)
    fitted = fitted_before(held)
    retest = Retest(runs, 1, asked.shift_pct, draws / held.cells)
    power = detection_power(fitted, np.arange(held.cells), retest, limits)
    promised = power_at_spread(fitted, np.array(SPREADS), retest, limits)
    cells = tuple(
        FrameCell("anna", f"anna.r{held.factors['rig'][c]}", f"t{held.factors['workload'][c]}",
                  str(held.factors["resolution"][c]), str(held.factors["level"][c]), "s", "1", 3,
                  0.0, tuple(map(float, power[c])))
        for c in range(held.cells)
    )  # fmt: skip
    return make_plan(Frame(cells, (), promised, ()), asked, draws)


def audit(held: Drawn, draws: int, rng: np.random.Generator, seed: str) -> Audited | None:
    """Plan, re-test and decide; None where no cell can carry a bound."""
    plan = plan_of(held, draws, seed)
    parts = [cell.part for cell in plan.cells]
    tested = np.flatnonzero(np.array(parts) == RANDOM)
    carried = np.flatnonzero([bool(cell.stratum) for cell in plan.cells])
    if not len(tested):
        return None
    shifts = retested(held, rng, tested)
    seen = dict(zip(tested.tolist(), (shifts.p <= plan.p_limit).tolist(), strict=True))
    frame = tuple(
        Tested(plan.cells[c].stratum, plan.cells[c].cell.rig, plan.cells[c].cell.workload,
               plan.cells[c].power, c in seen, seen.get(c, False))
        for c in carried.tolist()
    )  # fmt: skip
    decision = decide(frame, tolerated_pct=plan.asked.tolerated_pct, level=plan.asked.level)
    return Audited(plan, tested, shifts, frame, decision, carried)
