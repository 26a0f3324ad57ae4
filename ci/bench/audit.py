"""Re-testing after a change, by simulation: false moves, power promised, bound, decisions.

Run it as ``python ci/bench/audit.py`` (1,080 studies in two processes; 50 minutes on a machine
that was busy otherwise) or with ``--quick`` (under 50 s). Every study is seeded, planned by the
program, re-tested and decided; which cells moved is known. It exits with 1 if a figure falls
outside its bound by more than the error of the simulation explains.

The power that a plan promises is that of its own limit of p, at which a cell counts as seen to
move: by class of the moderated spread (held to 3 points), and cell by cell, as the bound uses it
(never 3 points too high). What the table `stack_shift` calls moved, by q over all cells, stands
beside it.
"""

from __future__ import annotations

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from multiprocessing import get_context
from typing import TYPE_CHECKING

import numpy as np
from audit_studies import (
    Audited,
    Drawn,
    World,
    audit,
    draw_study,
    fitted_before,
    retested,
)
from results import Figure, Results, options
from scipy.special import ndtr
from scoreboard import Scoreboard

from rigledger.audit.decide import tolerated_cells
from rigledger.audit.frame import SPREADS
from rigledger.statistics.detection import Retest, detection_power, power_at_spread
from rigledger.statistics.multiplicity import benjamini_hochberg
from rigledger.tables.agreement import Q

if TYPE_CHECKING:
    from collections.abc import Iterator
    from concurrent.futures import Executor

DRAWS = 60
QUIET = World(spreads=(0.3, 0.5, 0.8), titles=6)
MIXED = World(titles=6)
HALF = {"moved": "scattered", "share": 0.5}
POWER_WORLDS = (
    ("144 cells, alike", World(**HALF)),
    ("144 cells, unlike", World(**HALF, scatter=0.45)),
    ("48 cells", World(**HALF, titles=3, scatter=0.3)),
)
"""In the measured study that comes with the program cells scatter about their titles by 0.6."""

LIMITS = np.array([0.05, 0.01, 0.002])
NEAR = 0.15
"""A cell belongs to a class if ln of its moderated spread is this near."""

Rates = dict[str, tuple[float, float, float]]


def main() -> int:
    """Run all sections."""
    parser = options(__doc__, "fewer studies, under 50 s")
    parser.add_argument("--studies", type=int, default=90, help="studies a case")
    given = parser.parse_args()
    start, board = time.perf_counter(), Scoreboard(Results("audit", given.quick))
    each = 3 if given.quick else given.studies
    with ProcessPoolExecutor(2, mp_context=get_context("spawn")) as pool:
        power(board, pool, each)
        same_stack(board, pool, each)
        something_moved(board, pool, each)
    print(f"\n{time.perf_counter() - start:.0f} s")
    return board.end(given.json)


def power(board: Scoreboard, pool: Executor, studies: int) -> None:
    """How often a shift of 5 % is seen, beside what the plan promised; and false alarms."""
    for name, world in POWER_WORLDS:
        board.title(f"Power, {name}: a 5 % shift seen, less what was promised (points of a share)")
        held = list(pool.map(partial(_power_of, world), range(studies)))
        for row in held[0]:
            _report_power(board, row, np.array([one[row] for one in held]))


def _report_power(board: Scoreboard, name: str, counts: np.ndarray) -> None:
    """Weigh each study by its cells: a ratio of sums, with each study's residual as its sample."""
    cells, seen, promised = counts.T
    if promised[0] < 0:
        return _report_share(board, name, cells, seen)
    gap = (seen - promised).sum() / cells.sum()
    residual = seen - promised - gap * cells
    note = f"seen {seen.sum() / cells.sum():.3f}, promised {promised.sum() / cells.sum():.3f}"
    highest = 0.03 if name.startswith("class") else None
    board.report(name, gap + residual / cells.mean(), -0.03, highest, note=note)
    return None


def _report_share(board: Scoreboard, name: str, cells: np.ndarray, seen: np.ndarray) -> None:
    share = seen.sum() / cells.sum()
    board.report(name, share + (seen - share * cells) / cells.mean())


def _power_of(world: World, number: int) -> Rates:
    """Cells, how many of them were seen to move, and how many were promised to be."""
    rng = np.random.default_rng([1, number])
    held = draw_study(world, rng)
    fitted, retest = fitted_before(held), Retest(3, 1, 5.0)
    own = detection_power(fitted, np.arange(held.cells), retest, LIMITS)
    stated = power_at_spread(fitted, np.array(SPREADS), retest, LIMITS)
    p = retested(held, rng, np.arange(held.cells)).p
    called = benjamini_hochberg(p) <= Q
    kind = held.factors["workload"] % len(SPREADS)
    found: Rates = {}
    for k, spread in enumerate(SPREADS):
        of_title = held.moved & (kind == k)
        off = np.abs(0.5 * np.log(fitted.variance) - np.log(spread / 100.0))
        in_class = held.moved & (off < NEAR)
        for j, limit in enumerate(LIMITS):
            seen, what = p <= limit, f"{spread:g} %, p at most {limit:g}"
            promised = (float(stated[k, j]) * in_class.sum(), float(own[of_title, j].sum()))
            found[f"class of {what}"] = _count(seen, in_class, promised[0])
            found[f"cell by cell, titles of {what}"] = _count(seen, of_title, promised[1])
        found[f"for comparison, titles of {spread:g} %: moved by q"] = _count(called, of_title, -1)
    for limit in LIMITS:
        found[f"cells that did not move, p at most {limit:g}"] = _count(p <= limit, ~held.moved, -1)
    return found


def _count(seen: np.ndarray, among: np.ndarray, promised: float) -> tuple[float, float, float]:
    return float(among.sum()), float(seen[among].sum()), float(promised)


def _audit_of(world: World, key: int, number: int) -> tuple[Drawn, Audited] | None:
    rng = np.random.default_rng([2, key, number])
    held = draw_study(world, rng)
    found = audit(held, DRAWS, rng, f"{key}.{number}")
    return None if found is None else (held, found)


def _audits(pool: Executor, world: World, key: int, studies: int) -> list[tuple[Drawn, Audited]]:
    found = pool.map(partial(_audit_of, world, key), range(studies))
    return [one for one in found if one is not None]


def same_stack(board: Scoreboard, pool: Executor, studies: int) -> None:
    """Nothing moved: the same stack again, days apart."""
    board.title("The same stack again, days apart: nothing moved")
    for key, (name, world) in enumerate(_worlds()):
        audits = _audits(pool, world, key, studies)
        found = [one for _, one in audits]
        naive = [float(np.any(_without_boots(*one) <= Q)) for one in audits]
        board.report(f"{name}: for comparison, runs alone, no boots: any moved", naive)
        moved = [float(np.any(_moved_of(one))) for one in found]
        board.report(f"{name}: any cell called moved (q at most 5 %)", moved, None, 0.05)
        able = [one for one in found if one.plan.can_stand]
        stands = [float(one.decision.verdict == "stands") for one in able]
        note = f"{len(able)} of {len(found)} plans said that they can show it"
        if able:
            board.report(f"{name}: says that the table stands", stands, 0.90, None, note=note)
        else:
            none = f"{name}: no plan could show that the table stands"
            board.results.keep(Figure(none, len(able), "count", least=1))


def _worlds() -> Iterator[tuple[str, World]]:
    yield "each cell by itself", QUIET
    yield "half of a boot's shift common", replace(QUIET, common=0.5)
    yield "a boot shifts all cells alike", replace(QUIET, common=1.0)


def _without_boots(held: Drawn, found: Audited) -> np.ndarray:
    """Q values of a z test with the true spread of the runs that takes boots for nothing."""
    z = np.log1p(found.shifts.shift_pct / 100.0) / (held.sd[found.tested] * np.sqrt(2 / 3))
    return np.asarray(benjamini_hochberg(2.0 * ndtr(-np.abs(z))))


def _moved_of(found: Audited) -> np.ndarray:
    return np.asarray(benjamini_hochberg(found.shifts.p) <= Q)


def something_moved(board: Scoreboard, pool: Executor, studies: int) -> None:
    """A title, a rig, a few or many cells moved by 5 or by 10 %."""
    ten = float(np.log1p(0.10))
    cases = (
        ("one title, 5 %", replace(QUIET, moved="one_title")),
        ("one title, 10 %, boots common", replace(QUIET, moved="one_title", shift=ten, common=1.0)),
        ("one rig, 5 %", replace(QUIET, moved="one_rig")),
        ("30 % of the cells, 5 %", replace(QUIET, moved="scattered", share=0.3)),
        ("12 % of the cells, 5 %", replace(QUIET, moved="scattered", share=0.12)),
        ("spreads to 5 %, 30 % of the cells", replace(MIXED, moved="scattered", share=0.3)),
    )
    for key, (name, world) in enumerate(cases):
        board.title(f"Moved: {name}")
        _case(board, _audits(pool, world, 100 + key, studies))


def _case(board: Scoreboard, found: list[tuple[Drawn, Audited]]) -> None:
    board.report(
        "false share of the cells called moved", [_false(*one) for one in found], None, 0.05
    )
    covers = [float(_truly(*one) <= one[1].decision.bound.at_most) for one in found]
    width = np.mean([one.decision.bound.at_most / len(one.carried) for _, one in found])
    truth = np.mean([_truly(*one) / len(one[1].carried) for one in found])
    note = f"on average {width:.0%} stated, {truth:.0%} true"
    board.report("the bound holds", covers, 0.95, None, note=note)
    wrong = [float(_wrong(*one)) for one in found]
    verdicts = [one.decision.verdict for _, one in found]
    counts = ", ".join(f"{verdicts.count(v)} {v}" for v in dict.fromkeys(verdicts))
    board.report("a decision leaves out more than is tolerated", wrong, None, 0.05, note=counts)


def _false(held: Drawn, found: Audited) -> float:
    called = _moved_of(found)
    return float(np.sum(called & ~held.moved[found.tested])) / max(int(called.sum()), 1)


def _truly(held: Drawn, found: Audited) -> int:
    return int(held.moved[found.carried].sum())


def _wrong(held: Drawn, found: Audited) -> bool:
    """Whether more cells moved, among those not to be tested again, than the decision says."""
    decision = found.decision
    if decision.verdict == "retest_all":
        return False
    names = decision.named.names if decision.named else ()
    left = [
        c for c, cell in zip(found.carried, found.frame, strict=True)
        if cell.rig not in names and cell.workload not in names
    ]  # fmt: skip
    tolerated = tolerated_cells(len(left), found.plan.asked.tolerated_pct)
    return int(held.moved[left].sum()) > tolerated


if __name__ == "__main__":
    sys.exit(main())
