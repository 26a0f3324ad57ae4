"""Time of a whole review: tables, charts, claims and the filled draft, cold and warm.

The study is the demonstration as committed. Each of the three commands is run in a process of its
own, as a person runs them. Cold: nothing was built before. Warm: nothing has changed since, so the
tables are read as kept and no chart is drawn again; its files must have the same bytes. The
baseline is the same three processes doing nothing (``rigledger --version``), measured in the same
run. Held to the bounds is processor time, which another program on the machine hardly changes; the
wall clock is printed beside it and is shorter on an idle machine, where both cores work.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import tomli_w
from results import Figure, Results, asked

from rigledger.charts.source import open_source
from rigledger.files import files_below, sha256_of, write_text

if TYPE_CHECKING:
    from collections.abc import Sequence

ROOT = Path(__file__).resolve().parents[2]
DEMO = ROOT / "datasets" / "link-width"
COLD_S, WARM_S = 60.0, 5.0
CHARTS, CLAIMS, RUNS = 50, 40, 1000
CONTRAST, METRIC = "x8-against-x16", "average_fps"


def main() -> int:
    """Print the figures; 1 where one of them falls short."""
    given = asked(__doc__, "each time once")
    results, times = Results("review", given.quick), 1 if given.quick else 3
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        commands = _prepare(folder)
        bare = min(_timed([["--version"]] * len(commands)) for _ in range(times))
        cold, first = _round(folder, commands)
        warm, second = min((_round(folder, commands) for _ in range(times)), key=_time)
        _report(results, folder, bare, (cold, warm), same=first == second)
    return results.close(given.json)


class Took(NamedTuple):
    """Seconds of processors and of the wall clock."""

    processor: float
    wall: float


def _time(measured: tuple[Took, dict[str, str]]) -> Took:
    return measured[0]


def _prepare(folder: Path) -> list[list[str]]:
    """Copy the study, state the claims, write the draft; give the commands of a review."""
    study = folder / "study"
    shutil.copytree(DEMO, study, ignore=shutil.ignore_patterns(".rigledger", "derived", "releases"))
    claims = _claims(study)
    shutil.rmtree(study / ".rigledger")
    write_text(study / "claims.toml", tomli_w.dumps({"claims": claims}))
    lines = [f"It is {{@ claim {claim['claim']} @}} in one place." for claim in claims]
    write_text(folder / "draft.md", "\n\n".join(["# A review", *lines]) + "\n")
    out = ["--out", str(folder / "charts"), "--contrast", CONTRAST]
    filled = ["--out", str(folder / "review.md"), "--allow-open"]
    return [
        ["charts", str(study), *out],
        ["claims", str(study)],
        ["quote", str(study), str(folder / "draft.md"), *filled],
    ]


def _claims(study: Path) -> list[dict[str, object]]:
    """State the change of 40 cells, as a review would print it."""
    rows = open_source(study).con.execute(
        "select rig, workload, resolution, change_pct from comparisons "
        "where current and contrast = $contrast and metric = $metric and no_verdict is null "
        "order by abs(change_pct) desc, rig, workload, resolution limit $most",
        {"contrast": CONTRAST, "metric": METRIC, "most": CLAIMS},
    ).fetchall()  # fmt: skip
    return [_claim(number, *row) for number, row in enumerate(rows)]


def _claim(
    number: int, rig: str, workload: str, resolution: str, change: float
) -> dict[str, object]:
    word = "slower" if change < 0 else "faster"
    value = f"{abs(change):.1f} % {word}"
    return {
        "claim": f"c{number}", "sentence": f"{workload} is {value} on {rig} at {resolution}.",
        "quantity": "change", "value": value,
        "scope": {
            "rigs": [rig], "workloads": [workload], "resolutions": [resolution],
            "metrics": [METRIC], "contrasts": [CONTRAST],
        },
    }  # fmt: skip


def _round(folder: Path, commands: Sequence[list[str]]) -> tuple[Took, dict[str, str]]:
    """Build the review once; give its time and the hash of each file of it."""
    took = _timed(commands)
    made = [folder / "review.md", *(folder / "charts" / n for n in files_below(folder / "charts"))]
    return took, {path.name: sha256_of(path) for path in made}


def _timed(commands: Sequence[list[str]]) -> Took:
    before, start = os.times(), time.perf_counter()
    for arguments in commands:
        done = subprocess.run(
            [sys.executable, "-m", "rigledger", *arguments],
            capture_output=True, check=False, env=os.environ | {"PYTHONUTF8": "1"},
        )  # fmt: skip
        if done.returncode not in {0, 1}:
            sys.exit(done.stderr.decode("utf-8", "replace"))
    after, wall = os.times(), time.perf_counter() - start
    processor = (after.children_user - before.children_user) + (
        after.children_system - before.children_system
    )
    # Where the system doesn't count its children's time, the wall clock's stands for it.
    return Took(processor or wall, wall)


def _report(
    results: Results, folder: Path, bare: Took, times: tuple[Took, Took], *, same: bool
) -> None:
    con = open_source(folder / "study").con
    runs = _count(con.execute("select count(*) from runs_wide where role = 'measured'").fetchone())
    pictures = len(list((folder / "charts").glob("*.png")))
    filled = (folder / "review.md").read_text(encoding="utf-8").count("%")
    cold, warm = times
    figures = (
        Figure("measured runs", runs, "count", least=RUNS),
        Figure("charts", pictures, "count", least=CHARTS),
        Figure("claims quoted", filled, "count", least=CLAIMS),
        Figure("cold, s of processors", cold.processor, "s", COLD_S),
        Figure("warm, s of processors", warm.processor, "s", WARM_S),
        Figure("warm and cold have the same bytes", float(same), "yes", least=1),
    )
    for held in figures:
        bound = held.least if held.most is None else held.most
        mark = "ok" if results.keep(held) else "SHORT"
        print(f"  {held.name:36} {held.value:8.1f}   asked {bound:6.1f}  {mark}")
    print(f"  wall clock: cold {cold.wall:.1f} s, warm {warm.wall:.1f} s")
    print(f"  three processes that do nothing: {bare.processor:.1f} s of processors")
    ratios = (cold.processor / bare.processor, warm.processor / bare.processor)
    print(f"  cold is x {ratios[0]:.1f} of these, warm x {ratios[1]:.1f}")
    results.report("s", {"cold, wall clock": cold.wall, "warm, wall clock": warm.wall})
    beside = "beside three processes that do nothing"
    results.report("x", {f"cold, {beside}": ratios[0], f"warm, {beside}": ratios[1]})


def _count(row: tuple[int, ...] | None) -> int:
    return row[0] if row else 0


if __name__ == "__main__":
    sys.exit(main())
