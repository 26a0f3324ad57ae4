"""Time of all statistics of 1,000 and 16,000 comparisons, beside plain Welch tests.

Run it as ``python ci/bench/statistics.py``; ``--quick`` leaves out the second session. It exits
with 1 if a time exceeds its bound: 2 s and 20 s. The work runs on one core, so its processor time
is what a quiet machine takes; that is judged, and the time on the clock is printed beside it.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING

# This folder holds a module called statistics, which must not hide the standard library's.
HERE = Path(__file__).resolve().parent
sys.path = [entry for entry in sys.path if Path(entry or ".").resolve() != HERE] + [str(HERE)]

import numpy as np  # noqa: E402
from results import Figure, Results, asked, best  # noqa: E402

from rigledger.statistics.comparisons import (  # noqa: E402
    CellArrays,
    PairArrays,
    RunArrays,
    Settings,
    analyse,
)
from rigledger.statistics.known_fits import forget_fits  # noqa: E402
from rigledger.statistics.student import difference  # noqa: E402

if TYPE_CHECKING:
    from rigledger.statistics.outputs import Analysis

BOUNDS = {1_000: 2.0, 16_000: 20.0}


def study(pairs: int, sessions: int) -> tuple[RunArrays, CellArrays, PairArrays]:
    """A crossed study: 40 workloads, 3 resolutions, 2 levels, as many rigs as it takes."""
    rng = np.random.default_rng(pairs)
    cells = np.arange(2 * pairs)
    factors = {
        "level": cells % 2,
        "resolution": cells // 2 % 3,
        "workload": cells // 6 % 40,
        "rig": cells // 240,
    }
    x = np.log(0.01) + rng.normal(0, 0.3, len(cells))
    for labels in factors.values():
        x += rng.normal(0, 0.5, int(labels.max()) + 1)[labels]
    shape = (len(cells), sessions, 3)
    y = np.log(100.0) + np.exp(x)[:, None, None] * rng.normal(size=shape)
    session = np.broadcast_to(np.arange(sessions)[:, None], shape).reshape(-1)
    runs = RunArrays(
        value=np.exp(y).reshape(-1),
        cell=np.repeat(cells, 3 * sessions),
        session=session + sessions * np.repeat(factors["rig"], 3 * sessions),
        round=session,
        pass_index=np.broadcast_to(np.arange(3), shape).reshape(-1),
        reported_step=np.full(y.size, 0.01),
    )
    return (
        runs,
        CellArrays(factors, np.zeros(len(cells), bool)),
        PairArrays(cells[::2], cells[1::2]),
    )


def from_anew(runs: RunArrays, cells: CellArrays, pairs: PairArrays) -> Analysis:
    """Analyse without what an earlier call had found."""
    forget_fits()
    return analyse(runs, cells, pairs, Settings())


def main() -> int:
    """Time both sizes; 1 if one is too slow."""
    given = asked(__doc__, "one session a rig alone")
    results = Results("statistics", given.quick)
    titles = ("comparisons", "sessions", "all, s", "bound", "clock, s", "Welch, s", "ratio")
    print("{:>11} {:>8} {:>8} {:>6} {:>9} {:>9} {:>7}".format(*titles))
    for pairs, bound in BOUNDS.items():
        for sessions in (1,) if given.quick else (1, 2):
            runs, cells, names = study(pairs, sessions)
            (spent,) = best(lambda r=runs, c=cells, p=names: from_anew(r, c, p), times=2)
            table = np.log(runs.value).reshape(2 * pairs, -1)
            (welch,) = best(lambda t=table: difference(t[::2], t[1::2]).half_width(0.95), times=5)
            whole, clock, plain = spent.processor, spent.wall, welch.processor
            name = f"all statistics of {pairs:,} comparisons, sessions: {sessions}"
            ok = results.keep(Figure(name, whole, "s", bound))
            results.report("s", {f"{name}, clock": clock})
            results.report("x", {f"{name}, beside Welch": whole / plain})
            print(
                f"{pairs:11,} {sessions:8} {whole:8.2f} {bound:6.0f} {clock:9.2f} {plain:9.4f} "
                f"{whole / plain:7.0f} {'' if ok else 'TOO SLOW'}",
                flush=True,
            )
    return results.close(given.json)


if __name__ == "__main__":
    sys.exit(main())
