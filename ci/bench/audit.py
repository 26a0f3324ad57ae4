"""Re-testing after a change, by simulation: false moves, power promised, bound, decisions.

Run it as ``python ci/bench/audit.py`` (1,000 studies, about half an hour) or with ``--quick``
(under 50 s). Every study is seeded, planned by the program, re-tested and decided; which cells
moved is known. It exits with 1 if a figure falls outside its bound by more than the error of the
simulation explains.
"""

from __future__ import annotations

import argparse
import sys
import time
from dataclasses import replace
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
from scipy.special import ndtr
from scoreboard import Scoreboard

from rigledger.audit.decide import tolerated_cells
from rigledger.audit.frame import SPREADS
from rigledger.statistics.detection import Retest, detection_power, power_at_spread
from rigledger.statistics.multiplicity import benjamini_hochberg

if TYPE_CHECKING:
    from collections.abc import Iterator

DRAWS = 60
QUIET = World(spreads=(0.3, 0.5, 0.8), titles=6)
MIXED = World(titles=6)
LARGER = World(titles=9)
LIMITS = np.array([0.05, 0.01, 0.002])


def main() -> int:
    """Run all sections."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--quick", action="store_true", help="fewer studies, under 50 s")
    parser.add_argument("--studies", type=int, default=90, help="studies a case")
    given = parser.parse_args()
    quick = given.quick
    start, board = time.perf_counter(), Scoreboard()
    each = 3 if quick else given.studies
    power(board, 5 if quick else 2 * given.studies)
    same_stack(board, each)
    something_moved(board, each)
    print(f"\n{time.perf_counter() - start:.0f} s")
    return board.end()


def power(board: Scoreboard, studies: int) -> None:
    """How often a shift of 5 % is seen, beside what the plan promised; and false alarms."""
    board.title("A 5 % shift seen, less what was promised (points of a share), by spread and limit")
    gaps: dict[str, list[float]] = {}
    notes: dict[str, list[tuple[float, float]]] = {}
    false: dict[str, list[float]] = {}
    for number in range(studies):
        rng = np.random.default_rng([1, number])
        held = draw_study(replace(LARGER, moved="scattered", share=0.5), rng)
        _power_of(held, rng, gaps, notes, false)
    for name, found in gaps.items():
        seen, promised = np.mean(notes[name], axis=0)
        note = f"seen {seen:.3f}, promised {promised:.3f}"
        board.report(name, found, -0.03, 0.03, note=note)
    board.title("Cells that did not move, with a p value at most")
    for name, found in false.items():
        board.report(name, found)


def _power_of(
    held: Drawn,
    rng: np.random.Generator,
    gaps: dict[str, list[float]],
    notes: dict[str, list[tuple[float, float]]],
    false: dict[str, list[float]],
) -> None:
    fitted, retest = fitted_before(held), Retest(3, 1, 5.0)
    own = detection_power(fitted, np.arange(held.cells), retest, LIMITS)
    stated = power_at_spread(fitted, np.array(SPREADS), retest, LIMITS)
    seen = retested(held, rng, np.arange(held.cells)).p[:, None] <= LIMITS
    kind = held.factors["workload"] % len(SPREADS)
    for k, spread in enumerate(SPREADS):
        moved = held.moved & (kind == k)
        for j, limit in enumerate(LIMITS):
            rate = float(seen[moved, j].mean())
            for what, promise in (("stated", stated[k, j]), ("cell by cell", own[moved, j].mean())):
                name = f"{what}: spread {spread:g} %, p at most {limit:g}"
                gaps.setdefault(name, []).append(rate - float(promise))
                notes.setdefault(name, []).append((rate, float(promise)))
    for j, limit in enumerate(LIMITS):
        false.setdefault(f"{limit:g} (any spread)", []).append(float(seen[~held.moved, j].mean()))


def _audits(world: World, key: int, studies: int) -> Iterator[tuple[Drawn, Audited]]:
    for number in range(studies):
        rng = np.random.default_rng([2, key, number])
        held = draw_study(world, rng)
        found = audit(held, DRAWS, rng, f"{key}.{number}")
        if found is not None:
            yield held, found


def same_stack(board: Scoreboard, studies: int) -> None:
    """Nothing moved: the same stack again, days apart."""
    board.title("The same stack again, days apart: nothing moved")
    for key, (name, world) in enumerate(_worlds()):
        audits = list(_audits(world, key, studies))
        found = [one for _, one in audits]
        naive = [float(np.any(_without_boots(*one) <= 0.05)) for one in audits]
        board.report(f"{name}: for comparison, runs alone, no boots: any moved", naive)
        moved = [float(np.any(_moved_of(one))) for one in found]
        board.report(f"{name}: any cell called moved (q at most 5 %)", moved, None, 0.05)
        able = [one for one in found if one.plan.can_stand]
        stands = [float(one.decision.verdict == "stands") for one in able]
        note = f"{len(able)} of {len(found)} plans said that they can show it"
        if able:
            board.report(f"{name}: says that the table stands", stands, 0.90, None, note=note)
        else:
            board.short.append(f"{name}: no plan could show that the table stands")


def _worlds() -> Iterator[tuple[str, World]]:
    yield "each cell by itself", QUIET
    yield "half of a boot's shift common", replace(QUIET, common=0.5)
    yield "a boot shifts all cells alike", replace(QUIET, common=1.0)


def _without_boots(held: Drawn, found: Audited) -> np.ndarray:
    """Q values of a z test with the true spread of the runs that takes boots for nothing."""
    z = np.log1p(found.shifts.shift_pct / 100.0) / (held.sd[found.tested] * np.sqrt(2 / 3))
    return np.asarray(benjamini_hochberg(2.0 * ndtr(-np.abs(z))))


def _moved_of(found: Audited) -> np.ndarray:
    return np.asarray(benjamini_hochberg(found.shifts.p) <= 0.05)


def something_moved(board: Scoreboard, studies: int) -> None:
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
        _case(board, list(_audits(world, 100 + key, studies)))


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
