"""How often claims are judged rightly: each kind, true and wrong, over simulated studies.

Run it as ``python ci/bench/claims.py`` (1,000 studies of each law, some minutes) or with
``--quick`` (under 50 s). Every study is seeded. A true claim may be failed or called too broad in
5 % of studies at most; one that is wrong by more than the material change may be passed in 5 % at
most; a 10 % gain of one rig that is stated for all has to be called too broad in 80 % at least, at
2 % spread. Behind each rate stands how often each verdict was given. Sentences that are proposed,
or offered instead, are held against what is true as well. Exits with 1 where a rate falls short by
more than two of its standard errors.
"""

from __future__ import annotations

import sys
import time
from collections import Counter
from typing import TYPE_CHECKING

import numpy as np
from claim_cases import SETS, Case, cases, world
from claim_studies import CONTRAST, DELTA, World, simulate, simulate_sessions
from results import Results, options
from scoreboard import Scoreboard
from session_studies import SessionPlan
from simulated_cells import Law

from rigledger.claims.judge import find, judge
from rigledger.claims.model import BROADER, FAILS, HOLDS, Claim
from rigledger.claims.suggest import suggest
from rigledger.claims.wording import Wording

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rigledger.claims.evidence import Evidence

BOUNDS = {"true": (None, 0.05), "wrong": (None, 0.05), "broad": (0.80, None)}
COUNTED = {"true": (FAILS, BROADER), "wrong": (HOLDS,), "broad": (BROADER,)}
LAWS = {
    "2 % spread everywhere": Law(workloads=12, between=0.0, within=0.0),
    "spread 0.7 %, workloads differ by 0.7, cells by 0.3": Law(
        workloads=12, between=0.7, within=0.3, spread=0.007
    ),
}
SESSIONS = SessionPlan(rigs=8, workloads=12, resolutions=1, rounds=2, ratio=0.5, common=True)
OF_CHANGES = ("change", "largest_change", "no_difference")
WORDS = Wording(
    {"metric": {}, "level": {}}, "setting", DELTA, {CONTRAST: ("off", "on")}, frozenset()
)


def main() -> int:
    """Run all laws."""
    parser = options(__doc__, "fewer studies, under 50 s")
    parser.add_argument("--studies", type=int, default=1000, help="studies of each law")
    parser.add_argument("--seed", type=int, default=12, help="other studies of the same laws")
    given = parser.parse_args()
    count = 30 if given.quick else given.studies
    start, board = time.perf_counter(), Scoreboard(Results("claims", given.quick))
    judged_laws(board, given.seed, count, max(count // 5, 5))
    judged_sessions(board, given.seed, count // 2)
    print(f"\n{time.perf_counter() - start:.0f} s")
    return board.end(given.json)


def judged_laws(board: Scoreboard, first: int, count: int, proposing: int) -> None:
    """Levels side by side in a session."""
    truth, held = world(), cases()
    for seed, (name, law) in enumerate(LAWS.items()):
        rng = np.random.default_rng([first, seed])
        studies = [simulate(rng, law, truth, SETS) for _ in range(count)]
        board.title(name, f": {count} studies")
        report(board, studies, held)
        report_proposed(board, studies[:proposing], truth)
        report_offered(board, studies[:proposing], truth, held)


def judged_sessions(board: Scoreboard, first: int, count: int) -> None:
    """Levels in sessions of their own, two rounds, half of the spread from boot to boot."""
    rng = np.random.default_rng([first, 9])
    studies = [simulate_sessions(rng, SESSIONS, world()) for _ in range(count)]
    board.title("Levels in sessions of their own", f": {count} studies")
    wanted = [one for one in cases() if one.claim.quantity in OF_CHANGES and one.kind != "broad"]
    report(board, studies, wanted)


def report(board: Scoreboard, studies: Sequence[Evidence], held: Iterable[Case]) -> None:
    """Judge cases in all studies, and report how often each verdict was wrong."""
    for case in held:
        found = [find(case.claim, evidence).verdict for evidence in studies]
        told = Counter(found)
        note = ", ".join(f"{key[:7]} {told[key] / len(found):.2f}" for key in sorted(told))
        counted = [verdict in COUNTED[case.kind] for verdict in found]
        board.report(f"{case.kind}: {case.name}", counted, *BOUNDS[case.kind], note=note)


def report_proposed(board: Scoreboard, studies: Sequence[Evidence], truth: World) -> None:
    """Report how many of the proposed sentences are wrong by more than the material change."""
    found = [[one.claim for one in suggest(evidence, WORDS)] for evidence in studies]
    _report_wrong(board, "proposed sentences, share that is wrong", found, studies, truth)


def report_offered(
    board: Scoreboard, studies: Sequence[Evidence], truth: World, held: Sequence[Case]
) -> None:
    """Report how many of the sentences offered instead are wrong likewise."""
    asked = [one.claim for one in held if one.kind != "true" and one.claim.quantity in OF_CHANGES]
    offered = [[judge(claim, evidence, WORDS).offered for claim in asked] for evidence in studies]
    found = [[claim for claim in row if claim is not None] for row in offered]
    _report_wrong(board, "offered instead, share that is wrong", found, studies, truth)


def _report_wrong(
    board: Scoreboard,
    name: str,
    found: Sequence[Sequence[Claim]],
    studies: Sequence[Evidence],
    truth: World,
) -> None:
    wrong = [
        [is_wrong(claim, evidence, truth) for claim in row if claim.quantity in OF_CHANGES]
        for row, evidence in zip(found, studies, strict=True)
    ]
    shares = [float(np.mean(row)) if row else 0.0 for row in wrong]
    note = f"{np.mean([len(row) for row in wrong]):.1f} in a study"
    board.report(name, shares, None, 0.05, note=note)


def is_wrong(claim: Claim, evidence: Evidence, truth: World) -> bool:
    """Say whether a claim on changes is wrong by more than the material change."""
    rows = evidence.within(evidence.judged, claim.scope)
    true = np.array([truth.of(str(row["workload"]), str(row["rig"])) for row in rows])
    if claim.printed is None:
        return bool((np.abs(true) > DELTA).any())
    sign = -1.0 if claim.printed.sense == "-" else 1.0
    off = sign * true - claim.printed.size
    farthest = off.max() if claim.quantity == "largest_change" else off[np.argmax(np.abs(off))]
    return bool(abs(farthest) > max(DELTA, claim.printed.half_unit))


if __name__ == "__main__":
    sys.exit(main())
