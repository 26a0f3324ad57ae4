"""The whole intake: time and memory by size, planted errors by row, and false alarms of each rule.

A set is made by seed: rigs of twenty titles, two resolutions, two levels, three runs a cell, with
spreads between 0.1 and 3 per cent as they are measured. Printed: time of the whole check (types,
keys and every rule) beside DuckDB's own typed read of the runs (`create table as select`, every
column in the type that the contract gives it) and, for the largest size, beside frictionless with
the same schema and key on the same rows, all in the same run; its peak memory;
whether exactly the planted errors are found in sets of which one row in a hundred was spoiled; how
long the command takes on a small set, child process and all; and, over many clean sets and the
measured study, how often each rule says something. Exits 1 where a figure falls short: the check
takes more than 2.5 times the typed read, or frictionless less than 15 times the check (both from a
million rows on; types and keys alone are held to that in `check.py`); memory exceeds 1 GiB; a
planted error is missed or any other is invented; a small set takes 1.5 s; or a rule cries wolf in
more than one clean set of a hundred.

Check and typed read are measured alike: each in a process of its own, from opening the database to
closing it, with the same two threads and the same limit on memory, in turns; the best of five goes
counts of each. (A read repeated in one process finds its memory fetched already, which the check of
a set never does.) Judged are seconds of the clock, which is what a person waits for, on a machine
that does nothing else; seconds of the processor stand beside, for one that does.
"""

from __future__ import annotations

import collections
import json
import math
import os
import random
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from typing import Any

from results import Figure, Results, asked, seconds

from rigledger.contract import load_contract
from rigledger.contract.cells import SQL_TYPES
from rigledger.contract.descriptor import resource
from rigledger.intake.check import check_set
from rigledger.intake.limits import limit

ROOT = Path(__file__).parents[2]
MOST_MEMORY_MB, MOST_FALSE_ALARMS = 1024, 0.01
MOST_TIMES_TYPED, TIMED_FROM, MOST_SECONDS_SMALL = 2.5, 1_000_000, 1.5
LEAST_TIMES_FRICTIONLESS = 15.0
TITLES, RESOLUTIONS, LEVELS = 20, ("1920x1080", "2560x1440"), ("x16", "x8")
HEAD = """[study]
study = "link-width"
title = "Link width"
question = "?"
setting = "width"
runs_required = 3
rounds_planned = 1
rounds_may_be_added = 1
material_change_pct = 3
levels_share_sessions = false
metrics = ["average_fps", "low_1pct_rank_fps"]
licence = "CC-BY-4.0"
consent_version = "1"
keywords = ["bench"]
[[authors]]
name = "bench"
[[levels]]
level = "x16"
title = "x16"
baseline = true
[[levels]]
level = "x8"
title = "x8"
[[platforms]]
platform = "p"
family = "f"
processor = "p"
board = "b"
memory_kit = "m"
[[cards]]
card = "c"
model = "c"
class = "card"
[[plan]]
resolutions = ["1920x1080", "2560x1440"]
"""
WORKLOAD = """[[workloads]]
workload = "title-{}"
title = "Title"
kind = "game"
preset = "high"
graphics_api = "api"
passage = "p"
passage_length_s = 60
plausible."1920x1080".average_fps = [20, 600]
plausible."2560x1440".average_fps = [10, 500]
"""
MANIFEST = """[set]
set = "bench"
contributor = "anna"
shown_name = "Anna"
study = "link-width"
licence = "CC-BY-4.0"
consent_version = "1"
"""
SESSION = "2026-10-05,2.14,551.10,96.00,desktop-os 11,26100,default"
# Column, what is written there, the rule that must say so; none of them upsets another rule.
SPOILS = (
    ("level_check", "=1+1", "formula_in_text"),
    ("average_fps", "141,3", "type_spelling"),
    ("low_1pct_rank_fps", "1e400", "out_of_bounds"),
    ("duration_s", "300", "passage_length_differs"),
)
CHILD = """
import json, resource, sys, time
from pathlib import Path
from rigledger.intake.check import check_set
folder, study = map(Path, sys.argv[1:])
started, worked = time.perf_counter(), time.process_time()
result = check_set(folder, study)
took, cpu = time.perf_counter() - started, time.process_time() - worked
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
found = [[f.rule, f.row, f.severity] for f in result.findings]
print(json.dumps([took, cpu, peak, found]))
"""
READ = """
import json, sys, time
import duckdb
query, limit = sys.argv[1:]
started, worked = time.perf_counter(), time.process_time()
with duckdb.connect(config={"threads": 2, "memory_limit": limit}) as con:
    con.execute("SET enable_progress_bar = false")
    con.execute(query)
print(json.dumps([time.perf_counter() - started, time.process_time() - worked]))
"""
GOES = 5
COLUMNS = (
    "rig,session,run,workload,title_build,resolution,level,level_state,level_check,role,pass,"
    "duration_s,average_fps,low_1pct_rank_fps"
)


def rows(seed: int, rig: int) -> list[list[str]]:
    """Give the runs of one rig: 240 of them, level by level."""
    draw = random.Random(f"{seed}-{rig}")  # noqa: S311 - a simulation
    made: dict[tuple[int, int, int], list[str]] = {}
    for title in range(TITLES):
        fast = math.exp(draw.uniform(math.log(40), math.log(300)))
        sigma = math.exp(draw.uniform(math.log(0.001), math.log(0.03)))
        share = draw.uniform(0.55, 0.8)
        for place, _ in enumerate(RESOLUTIONS):
            for level, _ in enumerate(LEVELS):
                mean = (
                    fast
                    * (1, draw.uniform(0.6, 0.98))[place]
                    * (1, 1 - draw.uniform(0, 0.05))[level]
                )
                for number in range(3):
                    average = mean * math.exp(draw.gauss(0, sigma))
                    low = average * share * math.exp(draw.gauss(0, sigma * 1.5))
                    made[level, number, title * 2 + place] = [f"{average:.1f}", f"{low:.1f}"]
    return [
        [
            f"rig-{rig}", str(level + 1), f"{number * 40 + cell:03}", f"title-{cell // 2}", "1.0.4",
            RESOLUTIONS[cell % 2], LEVELS[level], "effective", "read-out", "measured",
            str(number + 1), f"{60 + draw.uniform(-0.5, 0.5):.2f}", *values,
        ]
        for (level, number, cell), values in sorted(made.items())
    ]  # fmt: skip


def write_set(folder: Path, seed: int, runs: int, *, spoil: bool = False) -> list[tuple[str, int]]:
    """Write a set of about ``runs`` runs; gives the planted errors as (rule, physical row)."""
    folder.mkdir()
    rigs = max(1, runs // 240)
    planted = []
    (folder / "result-set.toml").write_text(MANIFEST, encoding="utf-8")
    with (folder / "runs.csv").open("w", encoding="utf-8", newline="") as stream:
        stream.write(COLUMNS + "\n")
        row = 1
        for rig in range(rigs):
            for cells in rows(seed, rig):
                row += 1
                if spoil and row % 100 == 0:
                    column, value, rule = SPOILS[row // 100 % len(SPOILS)]
                    cells[COLUMNS.split(",").index(column)] = f'"{value}"'
                    planted.append((rule, row))
                stream.write(",".join(cells) + "\n")
    head = "rig,platform,card,platform_unit,card_unit,hardware_from\n"
    lines = [f"rig-{n},p,c,board-{n},card-{n},bought\n" for n in range(rigs)]
    (folder / "rigs.csv").write_text(head + "".join(lines), encoding="utf-8")
    head = (
        "rig,session,boot,round,started_on,firmware_version,driver_version,card_firmware_version,"
        "os,os_build,profile\n"
    )
    lines = [f"rig-{n},{s},{s},1,{SESSION}\n" for n in range(rigs) for s in (1, 2)]
    (folder / "sessions.csv").write_text(head + "".join(lines), encoding="utf-8")
    return planted


def typed_read(path: Path) -> tuple[float, float]:
    """Time DuckDB's own `create table as select` of the typed runs; processor time second."""
    whole = load_contract().wide("handed_in", "runs")
    types = {name: SQL_TYPES[whole.field(name).type] for name in COLUMNS.split(",")}
    read = f"read_csv('{path}', header=true, auto_detect=false, delim=',', columns={types})"
    query = f"CREATE TABLE t AS SELECT * FROM {read}"
    took, worked = child(READ, query, f"{limit('parse.database_mb')}MB")
    return took, worked


def child(code: str, *args: str | Path) -> list[Any]:
    """Run code in a process of its own and give what it prints."""
    done = subprocess.run(  # our own interpreter
        [sys.executable, "-c", code, *map(str, args)], check=True, stdout=subprocess.PIPE
    )
    printed: list[Any] = json.loads(done.stdout)
    return printed


def frictionless(path: Path, rows: int) -> tuple[float, float]:
    """Time frictionless on the first rows, with the contract's schema and key.

    Gives seconds a row; those of the processor second.
    """
    # A module here is called like one of the standard library, which frictionless needs.
    here = Path(__file__).resolve().parent
    sys.path[:] = [entry for entry in sys.path if Path(entry or ".").resolve() != here]
    from frictionless import Resource

    whole = load_contract().wide("handed_in", "runs")
    fields = tuple(whole.field(name) for name in COLUMNS.split(","))
    table = replace(whole, fields=fields, foreign_keys=())
    described = resource(table, path=path.name, sha256="0" * 64, size=path.stat().st_size)
    del described["hash"], described["bytes"]
    held = Resource.from_descriptor(described, basepath=str(path.parent))
    started, worked = time.perf_counter(), time.process_time()
    if not held.validate(limit_rows=rows).valid:
        raise SystemExit("frictionless finds fault with the clean set")
    return (time.perf_counter() - started) / rows, (time.process_time() - worked) / rows


def against_frictionless(
    results: Results, folder: Path, size: int, took: tuple[float, float], judged: int
) -> None:
    """Print how many times as long frictionless takes for the runs of the clean set."""
    path = folder / f"{size}-False" / "runs.csv"
    with path.open(encoding="utf-8") as stream:
        rows = sum(1 for _ in stream) - 1
    each, worked = frictionless(path, min(rows, judged))
    times = each * rows / took[0]
    least = LEAST_TIMES_FRICTIONLESS if size >= TIMED_FROM else None
    fine = results.keep(Figure(f"frictionless beside {_set(size)}", times, "x", least=least))
    wanted = f" (at least {LEAST_TIMES_FRICTIONLESS:.0f})" if least else ""
    print(
        f"\nfrictionless on {min(rows, judged):,} rows: {each * 1e6:.1f} us a row, the check"
        f" {took[0] / rows * 1e6:.1f}: {times:.1f} times{wanted}{'' if fine else '  SHORT'};"
        f" of the processor {worked * 1e6:.1f}, {took[1] / rows * 1e6:.1f}:"
        f" {worked * rows / took[1]:.1f} times"
    )


def _set(size: int, *, spoiled: bool = False) -> str:
    """Name the check of a set, in the figures that are kept."""
    return f"the check of {size:,} runs, {'spoiled' if spoiled else 'clean'}"


def speed(results: Results, folder: Path, study: Path, sizes: list[int], judged: int) -> None:
    """Print time and memory by size, clean and spoiled; ``judged`` rows go through frictionless."""
    if hasattr(os, "getloadavg"):
        busy = f"{os.getloadavg()[0]:.1f} of {os.cpu_count()} processors"
        print(f"busy before this run: {busy}; seconds tell something only on an idle machine")
    print(
        "runs     spoiled seconds, typed read (times)  processor s, typed read (times)  peak MB"
        "  findings"
    )
    clean = (0.0, 0.0)
    for size in sizes:
        for spoil in (False, True):
            place = folder / f"{size}-{spoil}"
            planted = write_set(place, 1, size, spoil=spoil)
            path = folder / f"{size}-False" / "runs.csv"
            took = _one_size(results, place, path, study, planted)
            clean = clean if spoil else took
    against_frictionless(results, folder, sizes[-1], clean, judged)


def _one_size(
    results: Results, place: Path, clean: Path, study: Path, planted: list[tuple[str, int]]
) -> tuple[float, float]:
    """Check one set, read the clean runs of its size, in turns, and print its line.

    Gives seconds, those of the processor second.
    """
    goes = [(typed_read(clean), child(CHILD, place, study)) for _ in range(GOES)]
    typed = [min(read[part] for read, _ in goes) for part in (0, 1)]
    took, cpu = (min(checked[part] for _, checked in goes) for part in (0, 1))
    peak, found = max(checked[2] for _, checked in goes), goes[0][1][3]
    size = int(place.name.partition("-")[0])
    rules = {spoil[2] for spoil in SPOILS}
    came = sorted((rule, row) for rule, row, _ in found if rule in rules)
    others = collections.Counter(rule for rule, _, _ in found if rule not in rules)
    invented = [rule for rule, _, severity in found if severity == "error" and rule not in rules]
    name, most = _set(size, spoiled=bool(planted)), MOST_TIMES_TYPED if size >= TIMED_FROM else None
    fast = results.keep(Figure(f"{name}, beside the typed read", took / typed[0], "x", most))
    kept = [
        results.keep(Figure(f"{name}, peak memory", peak, "MiB", MOST_MEMORY_MB)),
        results.keep(
            Figure(f"{name}, planted errors found", float(came == sorted(planted)), "yes", least=1)
        ),
        results.keep(Figure(f"{name}, errors invented", len(invented), "count", 0)),
    ]
    results.report("s", {f"{name}, seconds": took, f"{name}, processor": cpu})
    fine, wanted = all(kept), f" (at most {MOST_TIMES_TYPED})" if most else ""
    wanted += "" if fast else "  SHORT"
    print(
        f"{size:<8} {bool(planted)!s:<7} {took:7.2f}  {typed[0]:8.2f}  {took / typed[0]:6.1f}"
        f"{wanted}  {cpu:11.2f}  {typed[1]:8.2f}  {cpu / typed[1]:6.1f}"
        f"   {peak:11.0f}  planted {len(planted)}, found {len(came)},"
        f" remarks beside {dict(others)}{'' if fine else '  SHORT'}",
        flush=True,
    )
    return took, cpu


def small(results: Results, folder: Path, study: Path) -> None:
    """Print how long the command takes on a small set; the best of three counts."""
    write_set(folder / "small", 5, 240)
    command = [sys.executable, "-m", "rigledger", "check", str(folder / "small")]
    command += ["--study", str(study)]
    best = seconds(lambda: subprocess.run(command, check=False, stdout=subprocess.DEVNULL), 3)
    fine = results.keep(Figure("the command on 240 runs", best, "s", MOST_SECONDS_SMALL))
    print(f"\nthe command on 240 runs: {best:.2f} s (under {MOST_SECONDS_SMALL} s)", end="")
    print("" if fine else "  SHORT")


def false_alarms(results: Results, folder: Path, study: Path, sets: int) -> None:
    """Print how often each rule says something about a clean set."""
    alarms: collections.Counter[str] = collections.Counter()
    for seed in range(sets):
        place = folder / f"clean-{seed}"
        write_set(place, 1000 + seed, 240)
        alarms.update({finding.rule for finding in check_set(place, study).findings})
    room = 3 * math.sqrt(MOST_FALSE_ALARMS / sets)
    print(f"\n{sets} clean sets of 240 runs: alarms by rule (at most {MOST_FALSE_ALARMS:.0%})")
    for rule, count in sorted(alarms.items()):
        share = count / sets
        figure = Figure(f"clean sets, {rule}", share, "share", MOST_FALSE_ALARMS, room=room)
        print(f"  {rule:<28} {share:6.1%}{'' if results.keep(figure) else '  SHORT'}")
    print("  all other rules                0.0%")


def measured() -> None:
    """Print what the rules say of the measured study's sets."""
    study = ROOT / "datasets" / "driver-threading"
    for place in sorted((study / "sets").glob("*")):
        found = collections.Counter(finding.rule for finding in check_set(place, study).findings)
        print(f"\nmeasured set {place.name}: {dict(sorted(found.items()))}")


def main() -> int:
    """Print the figures; 1 where one falls short."""
    given = asked(__doc__, "smaller and fewer sets")
    quick, results = given.quick, Results("intake", given.quick)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        text = HEAD + "".join(WORKLOAD.format(number) for number in range(TITLES))
        (folder / "study").mkdir()
        (folder / "study" / "study.toml").write_text(text, encoding="utf-8")
        sizes = [10_000, 100_000] if quick else [10_000, 100_000, 1_000_000]
        speed(results, folder, folder / "study", sizes, 20_000 if quick else sizes[-1])
        small(results, folder, folder / "study")
        false_alarms(results, folder, folder / "study", 30 if quick else 300)
    measured()
    return results.close(given.json)


if __name__ == "__main__":
    sys.exit(main())
