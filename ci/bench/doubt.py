"""How often clean studies raise doubt, and how often spoiled runs and warm rigs are found.

Three tables: the chance that a clean study has any doubtful run (stated: at most 5 %), beside
Grubbs's test of each cell with Bonferroni's correction; the share of spoiled runs found; and
false alarms and power of the warm-up and drift tests (stated: 1 % a session). Exits 1 if a
stated rate is exceeded by more than simulation error allows.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from functools import partial

import numpy as np
from results import Figure, Results, asked
from scipy import stats
from simulated_cells import Law, Study, draw, rounded, spread_of_others

from rigledger.statistics.doubt import Doubt, doubtful_runs_refitted
from rigledger.statistics.drift import drift, warm_up

STATED, ALPHA = 0.05, 0.01
CLEAN = Law(workloads=10, platforms=3, cards=2, spread=0.01)
LAWS = (
    ("spread 0.7 / 0.3", {"between": 0.7, "within": 0.3}),
    ("spread 1.2 / 0.4", {"between": 1.2, "within": 0.4}),
    ("spread 1.8 / 1.0", {"between": 1.8, "within": 1.0}),
)
STEPS = (("exact", 0.0), ("0.1 fps", 0.1), ("whole fps", 1.0))
SIZES = (0.02, 0.05, 0.10, 0.20)


def doubt_of(study: Study) -> Doubt:
    """The doubtful runs, with the spread model fitted again without what stands out."""
    runs = study.fps.shape[1]
    cell = np.repeat(np.arange(study.cells), runs)
    step = (study.step / study.fps).reshape(-1)
    return doubtful_runs_refitted(
        study.ln.reshape(-1),
        cell,
        study.rig[cell],
        partial(spread_of_others, study),
        ln_step=step,
        study_wide_rate=STATED,
    )


def grubbs_doubt(study: Study) -> np.ndarray:
    """Runs that Grubbs's two-sided test flags, Bonferroni over the cells of the study."""
    y = study.ln
    n = y.shape[1]
    t = stats.t.isf(STATED / (2 * n * study.cells), n - 2)
    critical = (n - 1) / n**0.5 * (t**2 / (n - 2 + t**2)) ** 0.5
    sd = y.std(axis=1, ddof=1, keepdims=True)
    distance = np.abs(y - y.mean(axis=1, keepdims=True))
    return np.asarray(distance > critical * sd).reshape(-1)


def false_alarms(law: Law, studies: int, seed: int) -> tuple[float, float, float, float]:
    """Shares of clean studies with any doubt, ours and Grubbs's; p < 1 %; runs flagged."""
    rng = np.random.default_rng(seed)
    rows = []
    for _ in range(studies):
        study = draw(rng, law)
        found = doubt_of(study)
        few = float(np.mean(found.p < 0.01))
        rows.append((found.doubtful.any(), grubbs_doubt(study).any(), few, found.doubtful.mean()))
    ours, grubbs, few, flagged = np.mean(rows, axis=0)
    return float(ours), float(grubbs), float(few), float(flagged)


def print_false_alarms(results: Results) -> None:
    """Prints the first table; the stated rate is held one by one and pooled."""
    studies = 10 if results.quick else 100
    laws = LAWS[1:2] if results.quick else LAWS
    print(f"Clean studies with any doubtful run (stated: at most {STATED:.0%}); {studies} each")
    print(
        f"{'law of spread':18} {'runs':>4} {'values':>9} {'rigledger':>9} {'Grubbs':>7} "
        f"{'p < 1 %':>8} {'runs flagged':>12}"
    )
    rates = []
    for name, shape in laws:
        for runs in (3, 5) if results.quick else (3, 4, 5):
            for label, step in STEPS:
                law = replace(CLEAN, runs=runs, step=step, **shape)
                ours, grubbs, few, flagged = false_alarms(law, studies, 31 * len(rates) + runs)
                rates.append(ours)
                case, room = f"{name}, {runs} runs, {label}", _room(STATED, studies, 3.5)
                results.keep(
                    Figure(f"clean studies in doubt, {case}", ours, "share", STATED, room=room)
                )
                print(
                    f"{name:18} {runs:4d} {label:>9} {ours:9.1%} {grubbs:7.1%} {few:8.2%} "
                    f"{flagged:12.3%}",
                    flush=True,
                )
    pooled, count = float(np.mean(rates)), studies * len(rates)
    print(f"together {pooled:.1%} of {count}")
    name = "clean studies in doubt, together"
    results.keep(Figure(name, pooled, "share", STATED, room=_room(STATED, count)))


def _room(rate: float, count: int, errors: float = 2.0) -> float:
    """How far a rate may stray by chance: so many of its standard errors."""
    return errors * (rate * (1 - rate) / count) ** 0.5


def print_power(results: Results) -> None:
    """Prints how many of the spoiled runs are found: 2 % of runs, slower by a given size."""
    studies = 2 if results.quick else 30
    chosen = SIZES[1:3] if results.quick else SIZES
    print("\nSpoiled runs found (2 % of runs slower; median spread 1 %), rigledger / Grubbs")
    sizes = " ".join(f"{f'{-size:.0%}':>15}" for size in chosen)
    print(f"{'runs':>4} {sizes}   in quiet cells, rigledger")
    for runs in (3, 5):
        cells = []
        for size in chosen:
            rng = np.random.default_rng(17)
            found = np.array([_found(rng, runs, size) for _ in range(studies)])
            total = found.sum(axis=0)
            results.report(
                "share", {f"spoiled found, {runs} runs, {size:.0%} slower": total[1] / total[0]}
            )
            cells.append((total[1] / total[0], total[2] / total[0], total[4] / max(total[3], 1)))
        print(
            f"{runs:4d} "
            + " ".join(f"{a:7.0%} /{b:6.0%}" for a, b, _ in cells)
            + "   "
            + " ".join(f"{quiet:5.0%}" for _, _, quiet in cells)
        )


def _found(rng: np.random.Generator, runs: int, size: float) -> tuple[int, int, int, int, int]:
    clean = draw(rng, replace(CLEAN, runs=runs))
    spoiled = rng.random(clean.fps.shape) < 0.02
    study = replace(clean, fps=clean.fps * np.where(spoiled, 1 - size, 1.0))
    hit, flat = doubt_of(study).doubtful, spoiled.reshape(-1)
    quiet = flat & np.repeat(clean.sigma < 0.01, runs)
    return (
        int(flat.sum()),
        int((hit & flat).sum()),
        int((grubbs_doubt(study) & flat).sum()),
        int(quiet.sum()),
        int((hit & quiet).sum()),
    )


def session(
    rng: np.random.Generator, runs: int, *, step: float, cold: float, heat: float, common: float
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """One rig's session, pass after pass over 12 cells: ln value, cell, order, spread."""
    cells = 12
    cell = np.tile(np.arange(cells), runs)
    turn = np.repeat(np.arange(runs), cells)
    sigma = 0.01 * np.exp(rng.normal(0, 1.0, cells))
    shared = common**0.5 * rng.standard_normal(runs)[turn]
    noise = shared + (1 - common) ** 0.5 * rng.standard_normal(cell.size)
    order = np.arange(cell.size)
    centre = np.log(rng.uniform(40, 200, cells))[cell]
    ln = centre + sigma[cell] * noise - cold * (turn == 0) - heat * order / order.max()
    return np.log(rounded(np.exp(ln), step)), cell, order, sigma[cell]


def trends(runs: int, sessions: int, **case: float) -> tuple[float, float]:
    """Shares of sessions flagged by the warm-up and by the drift test."""
    rng = np.random.default_rng(23)
    rows = []
    for _ in range(sessions):
        y, cell, order, spread = session(rng, runs, **case)
        rows.append(
            [
                test(y, cell, order, spread=spread, alpha=ALPHA, draws=999).flag
                for test in (warm_up, drift)
            ]
        )
    warm, drifting = np.mean(rows, axis=0)
    return float(warm), float(drifting)


def print_trends(results: Results) -> None:
    """Prints the third table; the stated rate is held where nothing changed."""
    sessions = 200 if results.quick else 2000
    still = {"step": 0.0, "cold": 0.0, "heat": 0.0, "common": 0.0}
    cases = (
        ("a still rig", still, True),
        ("a still rig, whole fps", still | {"step": 1.0}, True),
        ("passes share 35 % of variance", still | {"common": 0.35}, False),
        ("first pass 1 % slower", still | {"cold": 0.01}, False),
        ("2 % slower at the end", still | {"heat": 0.02}, False),
    )
    print(f"\nSessions flagged, 12 cells (stated: {ALPHA:.0%} of still rigs); {sessions} each")
    print(f"{'session':32} {'runs':>4} {'warm-up':>8} {'drift':>8}")
    room = _room(ALPHA, sessions, 3.0)
    for name, case, counts in cases:
        most = ALPHA if counts else None
        for runs in (3, 5):
            warm, drifting = trends(runs, sessions, **case)
            print(f"{name:32} {runs:4d} {warm:8.1%} {drifting:8.1%}", flush=True)
            for test, rate in (("warm-up", warm), ("drift", drifting)):
                flagged = f"flagged for {test}, {name}, {runs} runs"
                results.keep(Figure(flagged, rate, "share", most, room=room))


def main() -> int:
    """Runs all tables; 1 when a stated rate is exceeded."""
    given = asked(__doc__, "fewer studies and laws")
    began, results = time.perf_counter(), Results("doubt", given.quick)
    print_false_alarms(results)
    print_power(results)
    print_trends(results)
    short = results.short
    print(f"\n{'FALLS SHORT' if short else 'as stated'}; {time.perf_counter() - began:.0f} s")
    return results.close(given.json)


if __name__ == "__main__":
    sys.exit(main())
