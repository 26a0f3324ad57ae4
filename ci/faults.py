"""Kills and disturbs admit, tables and release at every point where they write, and looks after it.

Usage: python ci/faults.py [--quick | --few N] [--seed WORD]

A point is where a process opens a file to write, writes, syncs, renames, links, makes or removes in
the study, or lets the database copy rows to a file. They are counted in a run that nobody disturbs.
Then, at each of them in turn, the process is killed (a write has written half by then), or told
that the disk is full, or that the disk has an error. After each:

- the study opens, and every admitted set and every release is there with the bytes that it had;
- what a rename or the pointer makes current is as it was before, or as it is after, and whole;
- a disk that refuses was told in a sentence, not in a traceback;
- the command run again completes, with the bytes of the undisturbed run and nothing left over.

In the undisturbed run it is also looked at whether each rename comes after the sync of what it
puts into place, and before the sync of its folder, so that the order holds when the power fails.

What only computes is done once and not disturbed: checking, reading the tables, deriving them,
judging by outside programs, drawing the page. Needs os.fork, so not on Windows.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import shutil
import signal
import sys
import time
import traceback
from collections import Counter
from dataclasses import dataclass, field
from itertools import zip_longest
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from fault_look import FallenError, State, check_end, look, state_of
from fault_points import FAULTS, KILL, Counted, Points
from fault_study import Work, prepare, replaced
from rigledger.errors import RigledgerError
from rigledger.study.layout import StudyFolder
from rigledger.tables.build import DERIVED_TABLES

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

ASKED = 300
QUICK_SECONDS = 35
WORKERS = os.cpu_count() or 1
DONE, TOLD, UNTOLD = 0, 3, 4
FEW_TABLES = ("run_metrics", "claims")  # these need no statistics
_SECONDS = 600
_REPORT = "report.json"


@dataclass
class Course:
    """A command's undisturbed run, and what came of the disturbed ones.

    Attributes:
        work: The command.
        before: What the study holds before.
        after: What it holds after the undisturbed run.
        kinds: The kinds of its points, in order.
        tried: Disturbed runs by fault and by what was found after them.
        fallen: What fell short, a line each.
    """

    work: Work
    before: State
    after: State
    kinds: list[str]
    tried: Counter[tuple[str, str]] = field(default_factory=Counter)
    fallen: list[str] = field(default_factory=list)


Run = tuple[Course, int, str]
"""A run to disturb: the command, the number of the point from 0, the fault."""


def main() -> int:
    """Print the counts; 1 where anything fell short, or there are fewer points than asked."""
    asked = _arguments()
    if not hasattr(os, "fork"):
        print("this needs os.fork, which this system lacks")
        return 1
    began = time.monotonic()
    tables = FEW_TABLES if asked.few else DERIVED_TABLES
    # Not passed on to the disk: what the system has outlives a process. The order is looked at.
    os.fsync = lambda _: None  # type: ignore[assignment]
    with (
        TemporaryDirectory(prefix="rigledger-faults-") as name,
        # One file after the other, so that a point is the same one in every run.
        replaced(
            ("rigledger.files", "SYNCED_AT_ONCE", 1),
            ("rigledger.tabular", "_FEW_ROWS", -1),
            ("rigledger.tabular", "_refuse_unwritable", lambda *_: 0),
        ),
    ):
        place = Path(name)
        courses = [_undisturbed(work, place) for work in prepare(place, tables)]
        until = began + QUICK_SECONDS if asked.quick else None
        for outcome in _disturbed_runs(_plan(courses, asked), place, until):
            course = next(held for held in courses if held.work.name == outcome.command)
            course.tried[outcome.fault, outcome.found] += 1
            course.fallen += [outcome.line] if outcome.line else []
    return _told(courses, asked)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description="Disturb admit, tables and release as they write.")
    parser.add_argument("--quick", action="store_true", help="a sample, in under 50 s")
    parser.add_argument("--few", type=int, help="a sample of so many, with few tables")
    parser.add_argument("--seed", default="1", help="seed of the sample")
    return parser.parse_args()


def _plan(courses: Sequence[Course], asked: argparse.Namespace) -> list[Run]:
    """List the runs to disturb: all of them, or those of a sample in the order of its draw."""
    every = [
        (course, number, fault)
        for course in courses
        for number in range(len(course.kinds))
        for fault in FAULTS
    ]
    if asked.quick or asked.few:
        random.Random(asked.seed).shuffle(every)  # noqa: S311 - a sample
    return _by_turns(every)[: asked.few]


def _by_turns(every: list[Run]) -> list[Run]:
    """Take each command with each fault by turns, so that a short sample has them all."""
    groups: dict[tuple[str, str], list[Run]] = {}
    for run in every:
        groups.setdefault((run[0].work.name, run[2]), []).append(run)
    turns = zip_longest(*(groups[key] for key in sorted(groups)))
    return [run for turn in turns for run in turn if run is not None]


def _undisturbed(work: Work, place: Path) -> Course:
    study = _copied(work, place)
    before = state_of(study)
    points = Points(study.root)
    ended = _in_a_process(work, study, points, place / _REPORT)
    said = json.loads((place / _REPORT).read_text(encoding="utf-8"))
    course = Course(work, before, state_of(study), said["kinds"])
    if ended != DONE or before == course.after:
        course.fallen.append(f"undisturbed, it does not complete: {said['error']}")
    course.fallen += [f"undisturbed, out of order: {text}" for text in said["unordered"]]
    return course


def _copied(work: Work, place: Path) -> StudyFolder:
    """Give a fresh copy of the study. Its files are links: whatever is changed in place shows."""
    trial = place / "trial"
    shutil.rmtree(trial, ignore_errors=True)
    shutil.copytree(work.before, trial, symlinks=True, copy_function=os.link)
    return StudyFolder(trial)


def _in_a_process(work: Work, study: StudyFolder, points: Points | None, report: Path) -> int:
    """Run a command in a process of its own; gives its exit code, negative for a signal."""
    number = os.fork()
    if number == 0:
        _child(work, study, points, report)
    return os.waitstatus_to_exitcode(os.waitpid(number, 0)[1])


def _child(work: Work, study: StudyFolder, points: Points | None, report: Path) -> NoReturn:
    signal.alarm(_SECONDS)
    code, error = UNTOLD, ""
    try:
        if points is not None:
            points.install()
        work.run(study, lambda con: con if points is None else Counted(con, points))
        code = DONE
    except RigledgerError as told:
        code, error = TOLD, str(told)
    except BaseException:  # noqa: BLE001 - whatever it is, the parent says it
        error = traceback.format_exc()
    if points is not None and points.at is None:
        points.end()
    said = {"error": error} | ({} if points is None else vars_of(points))
    report.write_text(json.dumps(said), encoding="utf-8")
    os._exit(code)


def vars_of(points: Points) -> dict[str, list[str]]:
    """Give what points say at the end, as JSON takes it."""
    return {"kinds": points.kinds, "unordered": points.unordered}


class Outcome(NamedTuple):
    """What came of a disturbed run; ``line`` says what fell short, if anything."""

    command: str
    fault: str
    found: str
    line: str


def _disturbed_runs(plan: Sequence[Run], place: Path, until: float | None) -> Iterator[Outcome]:
    """Make the runs in as many processes as there are processors, each with a folder of its own."""
    workers = [
        _started(plan[first::WORKERS], place / str(first), until) for first in range(WORKERS)
    ]
    for number, report in workers:
        if os.waitpid(number, 0)[1] != 0:
            raise RuntimeError("a process that disturbs others came to harm itself")
        for line in report.read_text(encoding="utf-8").splitlines():
            yield Outcome(*json.loads(line))


def _started(plan: Sequence[Run], place: Path, until: float | None) -> tuple[int, Path]:
    place.mkdir()
    report = place / "outcomes.jsonl"
    number = os.fork()
    if number == 0:
        code = 1
        try:
            with report.open("w", encoding="utf-8", buffering=1) as stream:
                for run in plan:
                    if until is None or time.monotonic() < until:
                        stream.write(json.dumps(_disturb(*run, place)) + "\n")
            code = 0
        finally:
            os._exit(code)
    return number, report


def _disturb(course: Course, number: int, fault: str, place: Path) -> Outcome:
    name = course.work.name
    where = f"{fault} at point {number + 1} ({course.kinds[number]})"
    try:
        return Outcome(name, fault, _disturbed(course, number, fault, place), "")
    except (FallenError, RigledgerError) as error:
        return Outcome(name, fault, "fallen", f"{where}: {' '.join(str(error).split())}")


def _disturbed(course: Course, number: int, fault: str, place: Path) -> str:
    study, work = _copied(course.work, place), course.work
    ended = _in_a_process(work, study, Points(study.root, number, fault), place / _REPORT)
    if fault == KILL and ended != -signal.SIGKILL:
        raise FallenError(f"it was to be killed and ended with {ended}")
    if fault != KILL and ended not in {DONE, TOLD}:
        raise FallenError(f"it ended with {ended}: {_said(place)}")
    found = look(study, work.name, course.before, course.after)
    again = _in_a_process(work, study, None, place / _REPORT)
    # What is done already is refused in a sentence; tables are written as often as asked.
    if again != DONE and not (again == TOLD and found == "new" and work.name != "tables"):
        raise FallenError(f"run again, it ends with {again}: {_said(place)}")
    check_end(study, course.after)
    if state_of(StudyFolder(work.before)) != course.before:
        raise FallenError("files that were there before were changed in place")
    return found


def _said(place: Path) -> str:
    return str(json.loads((place / _REPORT).read_text(encoding="utf-8"))["error"])


def _told(courses: Sequence[Course], asked: argparse.Namespace) -> int:
    """Print the counts; gives the exit code."""
    for course in courses:
        kinds = ", ".join(f"{count} {kind}" for kind, count in Counter(course.kinds).most_common())
        print(f"{course.work.name}: {len(course.kinds)} points ({kinds})")
        for fault in FAULTS:
            print(f"  {fault:<10}  {_counts(course, fault)}")
        for line in course.fallen[:20]:
            print(f"  FELL SHORT  {line}")
    points = sum(len(course.kinds) for course in courses)
    runs = sum(course.tried.total() for course in courses)
    fallen = sum(len(course.fallen) for course in courses)
    sample = f", a sample with the seed {asked.seed!r}" if asked.quick or asked.few else ""
    print(f"{points} points, asked for: at least {ASKED}")
    print(f"{runs} disturbed runs{sample}; {fallen} fell short, asked for: 0")
    print("not disturbed: checking, reading, deriving, judging by outside programs, the page;")
    print("of the contract's files in a release, six stand for all")
    return 0 if points >= ASKED and runs and not fallen else 1


def _counts(course: Course, fault: str) -> str:
    held = {found: count for (one, found), count in course.tried.items() if one == fault}
    found = ", ".join(f"{held.get(name, 0)} {name}" for name in ("old", "new", "fallen"))
    return f"{sum(held.values())} runs, found after them: {found}"


if __name__ == "__main__":
    sys.exit(main())
