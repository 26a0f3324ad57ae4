"""Simulated studies in which a level needs a session of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from comparison_studies import BASE, MEDIAN_SD, Study

from rigledger.statistics.comparisons import CellArrays, PairArrays, RunArrays

if TYPE_CHECKING:
    from numpy.typing import NDArray

    FloatArray = NDArray[np.float64]


@dataclass(frozen=True)
class SessionPlan:
    """How such a study is drawn.

    Attributes:
        rigs, workloads, resolutions, runs: its size.
        rounds: each has one session a level and rig.
        ratio: session sd over run-to-run sd.
        proportional: the session sd follows each cell's own run-to-run sd; else it is `ratio`
            times the median sd in every cell.
        common: one shift of the whole session, in units of each cell's session sd; else every cell
            shifts by itself.
        sentinels: a sentinel workload is run at the start and end of each session.
    """

    rigs: int = 8
    workloads: int = 5
    resolutions: int = 2
    runs: int = 3
    rounds: int = 1
    ratio: float = 1.0
    proportional: bool = True
    common: bool = False
    sentinels: bool = True


def draw_sessions(plan: SessionPlan, rng: np.random.Generator) -> Study:
    """Draw a study: nothing changes between the levels, only between sessions."""
    per_rig = 2 * plan.workloads * plan.resolutions
    local = np.arange(plan.rigs * per_rig)
    factors = {
        "level": local % 2,
        "resolution": local // 2 % plan.resolutions,
        "workload": local // (2 * plan.resolutions) % plan.workloads,
        "rig": local // per_rig,
    }
    x = rng.normal(0.0, 0.7, plan.workloads)[factors["workload"]] + rng.normal(0, 0.3, len(local))
    sentinel_sd = 0.6 * MEDIAN_SD * np.exp(rng.normal(0.0, 0.3, plan.rigs))
    sd = np.concatenate((MEDIAN_SD * np.exp(x), sentinel_sd))
    rows = _rows(plan, sd, factors["rig"], factors["level"], rng)
    cells = _cells(plan, factors)
    change = np.zeros(len(local) // 2)
    pairs = PairArrays(local[::2], local[1::2])
    return Study(rows, cells, pairs, sd, change)


def _cells(plan: SessionPlan, factors: dict[str, NDArray[np.int64]]) -> CellArrays:
    rigs = np.arange(plan.rigs)
    own = {"rig": rigs, "workload": np.full(plan.rigs, plan.workloads)}
    joined = {
        name: np.concatenate((labels, own.get(name, np.zeros(plan.rigs, dtype=np.int64))))
        for name, labels in factors.items()
    }
    sentinel = np.arange(len(joined["rig"])) >= len(factors["rig"])
    return CellArrays(joined, sentinel)


def _rows(
    plan: SessionPlan,
    sd: FloatArray,
    rig: NDArray[np.int64],
    level: NDArray[np.int64],
    rng: np.random.Generator,
) -> RunArrays:
    parts: list[FloatArray] = []
    session = 0
    for repeat in range(plan.rounds):
        for owner in range(plan.rigs):
            for state in (0, 1):
                cells = np.flatnonzero((rig == owner) & (level == state))
                runs = np.full(len(cells), plan.runs)
                if plan.sentinels:
                    cells, runs = np.append(cells, len(rig) + owner), np.append(runs, 2)
                y = _session_values(plan, sd[cells], runs, rng)
                where = np.repeat(cells, runs)
                labels = (where, np.full(len(y), session), np.full(len(y), repeat))
                parts.append(np.stack((y, *labels), axis=1))
                session += 1
    table = np.concatenate(parts)
    whole = table[:, 1:].astype(np.int64)
    size = len(table)
    return RunArrays(
        np.exp(BASE + table[:, 0]),
        whole[:, 0],
        whole[:, 1],
        whole[:, 2],
        np.full(size, -1),
        np.zeros(size),
    )


def _session_values(
    plan: SessionPlan, sd: FloatArray, runs: NDArray[np.int64], rng: np.random.Generator
) -> FloatArray:
    """Ln values of all runs of one session; a session's common shift moves its sentinel too."""
    scale = sd if plan.proportional else np.full(len(sd), MEDIAN_SD)
    z = np.full(len(sd), rng.normal()) if plan.common else rng.normal(size=len(sd))
    shift = plan.ratio * scale * z
    values: FloatArray = np.repeat(shift, runs) + np.repeat(sd, runs) * rng.normal(size=runs.sum())
    return values
