"""How long tables and releases take: cold, warm, and after one more set.

1. A study of 1,008 runs, each with a capture of a minute, on disk; every command in a process of
   its own, as it is used. Beside it: what loading the libraries alone takes.
2. A study of a million runs: tables and release beside writing the same tables as CSV and Parquet
   with bare DuckDB. Statistics are timed apart, and so is what great-expectations takes to judge;
   what frictionless takes counts. Both sides have their libraries loaded.
3. The same release again, and admitting one more set to a large study and to none.

Figures in seconds depend on the machine and what else it does; ratios are to what is measured in
the same run, and of the large study in processor time, of which a busy machine makes little more.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

from release_studies import RUNS_A_SESSION, write_set, write_study
from results import Results, asked, seconds

from rigledger.contract import load_contract
from rigledger.database import connect
from rigledger.files import hashes_below
from rigledger.release import publish, write
from rigledger.release.judges import load_programs
from rigledger.release.publish import release
from rigledger.study.layout import open_study
from rigledger.tables import build
from rigledger.tables.workshop import Workshop

if TYPE_CHECKING:
    from collections.abc import Callable

    import duckdb

    from rigledger.study.layout import StudyFolder

DAY = date(2026, 11, 25)
SETS = 4
LIBRARIES = "import duckdb, polars, scipy.stats, frictionless, great_expectations"


def main() -> int:
    """Print the figures; 1 where one falls short."""
    # A benchmark beside this one has the name of a module that frictionless needs.
    sys.path.remove(str(Path(__file__).resolve().parent))
    given = asked(__doc__, "fewer runs: 252 with captures, 504 without")
    results = Results("release", given.quick)
    with TemporaryDirectory(prefix="rigledger-bench-") as name:
        print("as commands, each in a process of its own")
        cold_start(results)
        with_captures(results, Path(name) / "captures", sessions=1 if given.quick else 8)
        print("without captures")
        large(results, Path(name) / "large", runs=504 if given.quick else 1_000_000)
    return results.end(given.json)


def python(*arguments: str | Path, well: int = 0) -> None:
    """Run the interpreter and stop where it ends otherwise than well."""
    command = [sys.executable, *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    if done.returncode != well:
        raise RuntimeError(f"{command}: {done.stdout} {done.stderr}")


def rigledger(*arguments: str | Path) -> None:
    """Run a command."""
    python("-m", "rigledger", *arguments)


def cold_start(results: Results) -> None:
    """Time ``rigledger --help`` beside loading typer alone, taking turns."""
    bare, ours = [], []
    for _ in range(5):
        bare.append(seconds(lambda: python("-c", "import typer")))
        ours.append(seconds(lambda: rigledger("--help")))
    results.add("rigledger --help", min(ours), "s")
    results.add("rigledger --help beside import typer", min(ours) / min(bare), "x", 2.0)


def with_captures(results: Results, folder: Path, *, sessions: int) -> None:
    """Time the commands on a study with captures."""
    write_study(folder / "study")
    study = open_study(folder / "study")
    for number in range(SETS):
        write_set(folder / f"set-{number}", number, max(sessions // SETS, 1), captures=True)
    sets = [folder / f"set-{number}" for number in range(SETS)][: max(sessions // 2, 2)]
    runs = len(sets) * max(sessions // SETS, 1) * RUNS_A_SESSION
    print(f"{runs} runs with captures")
    one_set(results, folder, sessions=runs // RUNS_A_SESSION)
    taken = seconds(lambda: rigledger("admit", study.root, *sets[:-1]))
    taken += seconds(lambda: rigledger("tables", study.root))
    results.add("admit the other sets, then tables", taken, "s")
    libraries = seconds(lambda: python("-c", LIBRARIES))
    results.add("loading the libraries alone", libraries, "s")
    taken = seconds(lambda: rigledger("admit", study.root, sets[-1]))
    taken += seconds(lambda: rigledger("tables", study.root))
    results.add("admit one more set, then tables", taken, "s", 3.0)
    results.add("tables again", seconds(lambda: rigledger("tables", study.root)), "s")
    shutil.rmtree(study.kept)

    def publish_it() -> None:
        rigledger("release", study.root, "--on", DAY.isoformat())

    cold = seconds(publish_it)
    results.add("release, cold", cold, "s", 10.0)
    results.add("release, cold, beside loading the libraries", cold / libraries, "x")
    first, warm = hashes_below(study.published), []
    for _ in range(2):
        forget(study)
        warm.append(seconds(publish_it))
        same_bytes(study, first)
    results.add("release, warm", min(warm), "s", 1.0)
    results.add("release, warm, beside cold", min(warm) / cold, "x")


def one_set(results: Results, folder: Path, *, sessions: int) -> None:
    """Time the commands on a study of which all runs with captures are one set."""
    write_study(folder / "empty")
    whole = folder / "whole"
    write_set(whole, SETS, sessions, captures=True)
    asked = ("-m", "rigledger", "check", whole, "--study", folder / "empty")
    # Once before, with all libraries: what was not read from the disk since the machine started
    # takes seconds to load, whoever loads it.
    python("-c", LIBRARIES)
    # What the set leaves unsaid is remarked upon.
    python(*asked, well=1)
    results.add("check one set of all runs", seconds(lambda: python(*asked, well=1)), "s", 1.5)
    taken = seconds(lambda: rigledger("admit", folder / "empty", whole))
    taken += seconds(lambda: rigledger("tables", folder / "empty"))
    results.add("admit one set of all runs, then tables", taken, "s")


def forget(study: StudyFolder) -> None:
    """Make a study as if its release had not been published; what is kept stays."""
    shutil.rmtree(study.published)
    study.releases.unlink()


def same_bytes(study: StudyFolder, first: dict[str, str]) -> None:
    """Stop where a warm release is another than the cold one."""
    if hashes_below(study.published) != first:
        raise RuntimeError("the warm release has other bytes than the cold one")


def spent() -> float:
    """Give the processor time that this process and the ended ones it started have taken."""
    times = os.times()
    return times.user + times.system + times.children_user + times.children_system


def processor(action: Callable[[], object]) -> float:
    """Give the processor time of an action."""
    start = spent()
    action()
    return spent() - start


@dataclass
class Clock:
    """Processor time spent in functions, each without what other timed ones in it take."""

    taken: dict[str, float] = field(default_factory=dict)
    _open: list[float] = field(default_factory=list)

    def timed(self, name: str, function: Callable[..., Any]) -> Callable[..., Any]:
        """Give a function that is timed under a name."""

        def call(*given: Any, **named: Any) -> Any:  # noqa: ANN401 - whatever the function takes
            start = spent()
            self._open.append(0.0)
            try:
                return function(*given, **named)
            finally:
                whole = spent() - start
                self.taken[name] = self.taken.get(name, 0.0) + whole - self._open.pop()
                if self._open:
                    self._open[-1] += whole

        return call


def watch(clock: Clock) -> None:
    """Time the parts of a release."""
    for name, filler in build.FILLERS.items():
        kind = "plan" if name in {"plan", "title_sets", "run_totals"} else "statistics"
        build.FILLERS[name] = clock.timed(kind, filler)
    making: Any = Workshop._make

    def make(shop: Workshop, name: str) -> None:
        if name in shop.fillers:
            making(shop, name)
        else:
            clock.timed("tables", making)(shop, name)

    Workshop._make = make  # type: ignore[method-assign]
    write.build_tables = clock.timed("tables", write.build_tables)
    write.assess = clock.timed("great-expectations", write.assess)
    write.refuse_invalid = clock.timed("frictionless", write.refuse_invalid)
    write.documents = clock.timed("page and other documents", write.documents)
    write.compiled_problems = clock.timed("compiled check of long tables", write.compiled_problems)
    write.find_changes = clock.timed("changes", write.find_changes)
    write.write_tables = clock.timed("writing tables", write.write_tables)
    publish.load_source = clock.timed("reading sets", publish.load_source)
    publish.findings_of = clock.timed("checking sets", lambda *given: list(_findings(*given)))
    publish.write_release = clock.timed("release", publish.write_release)


_findings = publish.findings_of


def large(results: Results, folder: Path, *, runs: int) -> None:
    """Time tables and release of a large study, again, and with one more set."""
    sets = 2 if results.quick else 8
    sessions = max(runs // RUNS_A_SESSION // sets, 1)
    study = large_study(folder, sets, sessions)
    print(f"{sets * sessions * RUNS_A_SESSION} runs in {sets} sets")
    load_programs()
    clock = Clock()
    watch(clock)
    cold = processor(lambda: release(study, released_on=DAY, threads=2))
    for name, taken in sorted(clock.taken.items()):
        results.add(f"of the release: {name}", taken, "s")
    bare = bare_writing(next(study.published.iterdir()), folder / "bare")
    results.add("writing the same tables with bare DuckDB", bare, "s")
    apart = ("statistics", "great-expectations", "reading sets", "checking sets")
    ours = sum(taken for name, taken in clock.taken.items() if name not in apart)
    note = "without statistics, expectations, and reading and checking sets"
    # A few thousand rows are written in no time; what a release does once is not in proportion.
    most = None if results.quick else 3.0
    results.add("tables and release beside it", ours / bare, "x", most, note)
    first = hashes_below(study.published)
    forget(study)
    warm = processor(lambda: release(study, released_on=DAY, threads=2))
    same_bytes(study, first)
    results.add("large release, cold", cold, "s")
    results.add("large release again beside cold", warm / cold, "x", 0.05)
    one_more_set(results, folder, study)


def large_study(folder: Path, sets: int, sessions: int) -> StudyFolder:
    """Write a study and admit its sets."""
    write_study(folder / "study")
    study = open_study(folder / "study")
    for number in range(sets):
        write_set(folder / f"set-{number}", number, sessions, captures=False)
    rigledger("admit", study.root, *(folder / f"set-{number}" for number in range(sets)))
    return study


def bare_writing(released: Path, out: Path) -> float:
    """Time writing the tables of a release as CSV and Parquet from memory, and nothing else."""
    out.mkdir()
    with connect(threads=2) as con:
        names = []
        for path in sorted([*released.glob("data/*.parquet"), *released.glob("derived/*.parquet")]):
            con.execute(f"create table \"{path.stem}\" as from read_parquet('{path.as_posix()}')")
            names.append(path.stem)
        con.execute(f"create table changes as from read_csv('{released.as_posix()}/changes.csv')")
        # Once, as the release is made: the better of two goes would be held against a single one.
        return processor(lambda: write_bare(con, [*names, "changes"], out))


def write_bare(con: duckdb.DuckDBPyConnection, names: list[str], out: Path) -> None:
    """Write tables as anybody would."""
    for name in names:
        con.execute(f"copy \"{name}\" to '{(out / name).as_posix()}.csv' (format csv, header)")
        if name != "changes":
            con.execute(
                f"copy \"{name}\" to '{(out / name).as_posix()}.parquet' (compression zstd)"
            )


def one_more_set(results: Results, folder: Path, study: StudyFolder) -> None:
    """Time admitting a small set to the large study, beside admitting it to an empty one."""
    write_set(folder / "one-more", 99, 1, captures=False)
    write_study(folder / "empty")
    alone = processor(lambda: rigledger("admit", folder / "empty", folder / "one-more"))
    added = processor(lambda: rigledger("admit", study.root, folder / "one-more"))
    results.add(f"admit a set of {RUNS_A_SESSION} runs to the study", added, "s")
    results.add("the same beside admitting it to an empty study", added / alone, "x", 2.0)


if __name__ == "__main__":
    load_contract()
    sys.exit(main())
