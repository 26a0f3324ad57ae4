"""Feeds mutated result sets to the check until time is up, and keeps whatever makes it fall over.

    python ci/fuzz_intake.py --minutes 10 --seed 1
    python ci/fuzz_intake.py --minutes 0.05 --keep crashes

Valid sets (a folder of CSV, a .zip, a .xlsx, Parquet) of the demonstration study are mutated:
bytes, cells, headers, result-set.toml, parts and directories of archives. After each check: no
exception but a RigledgerError, a verdict, the study's bytes as before, no file written outside the
scratch folder, no socket opened, memory under the limit of the gate. In every fifth check, rules
that are spared their query (`only_if`) are asked nevertheless, and must find nothing; in every
third the set is dealt with once more as a very long one is (read straight into types, on two
threads) and must come to the same result. A crash keeps its input; exits 1 on a crash. Inputs
follow from the seed and their number alone: `--only 1234` checks one again.
"""

from __future__ import annotations

import argparse
import faulthandler
import os
import shutil
import sys
import tempfile
import time
import traceback
from collections import Counter
from contextlib import ExitStack
from dataclasses import dataclass, field, replace
from pathlib import Path
from random import Random
from typing import TYPE_CHECKING, Any
from unittest.mock import patch

from fuzz_mutations import FORMS, make_bases, mutated
from rigledger.contract.compile_sql import compile_rule
from rigledger.errors import RigledgerError
from rigledger.files import sha256sums
from rigledger.intake import csv_read, database, plain_read, rules, table_check, values
from rigledger.intake.check import check_set
from rigledger.intake.hints import Hints
from rigledger.intake.limits import limit

if TYPE_CHECKING:
    from fuzz_mutations import Files
    from rigledger.contract.model import Rule
    from rigledger.intake.result import CheckResult

STUDY = Path(__file__).resolve().parents[1] / "datasets" / "link-width"
VERDICTS = ("accepted", "accepted_with_remarks", "returned")
HASH_EVERY = 50
DISTRUST_EVERY = 5
LONG_EVERY = 3
SLOW_S = 20.0
"""Most processor time of a small set; a guard stops it at ten times that by the clock."""


class OutsideError(Exception):
    """The check reached for something outside its scratch folder."""


@dataclass
class Tally:
    """What the inputs came to."""

    inputs: int = 0
    forms: Counter[str] = field(default_factory=Counter)
    verdicts: Counter[str] = field(default_factory=Counter)
    rules: Counter[str] = field(default_factory=Counter)
    refused: Counter[str] = field(default_factory=Counter)
    crashes: list[tuple[str, Path]] = field(default_factory=list)
    slowest_s: float = 0.0


class Guard:
    """Refuses sockets, programs and writing outside one folder while a check runs."""

    def __init__(self, inside: Path) -> None:
        self.inside = str(inside.resolve())
        self.watching = False
        self.broken: list[str] = []
        sys.addaudithook(self._event)

    def _event(self, event: str, arguments: tuple[Any, ...]) -> None:
        if not self.watching:
            return
        outside = event.startswith(("socket.", "subprocess.", "os.system", "os.exec", "os.fork"))
        if event == "open" and isinstance(arguments[0], str | bytes | os.PathLike):
            outside = _writes(arguments) and not self._is_inside(arguments[0])
        elif event in {"os.remove", "os.rename", "os.mkdir", "os.rmdir", "os.truncate", "os.link"}:
            outside = not self._is_inside(arguments[0]) and not _by_handle(arguments)
        if outside:
            self.broken.append(f"{event} {arguments[:1]!r}")
            raise OutsideError(self.broken[-1])

    def _is_inside(self, path: Any) -> bool:  # noqa: ANN401 - whatever the interpreter hands over
        real = os.path.realpath(os.fsdecode(path))
        return real == os.devnull or real.startswith(self.inside + os.sep)


def _writes(arguments: tuple[Any, ...]) -> bool:
    mode, flags = arguments[1], arguments[2]
    if isinstance(mode, str):
        return any(sign in mode for sign in "wax+")
    return isinstance(flags, int) and bool(flags & (os.O_WRONLY | os.O_RDWR))


def _by_handle(arguments: tuple[Any, ...]) -> bool:
    """Clearing a temporary folder names its files relative to an open folder."""
    return isinstance(arguments[-1], int) and arguments[-1] > 0


class Distrustful(Hints):
    """Asks the rules that would be spared, where it is told to."""

    distrusts = False

    def may_find(self, rule: Rule) -> bool:
        """Answer as before; fall over where a spared rule finds something."""
        told = super().may_find(rule)
        if self.distrusts and not told:
            found = self._con.execute(compile_rule(rule)).fetchall()
            if found:
                raise AssertionError(f"{rule.code} was spared and finds {found[:3]}")
        return told


def checked_as_long(path: Path, study: Path) -> CheckResult:
    """Check a set as one of a million runs is."""
    with ExitStack() as stack:
        for module in (table_check, values, csv_read):
            stack.enter_context(patch.object(module, "LONG", 1))
        stack.enter_context(patch.object(csv_read, "_LONG_FILE", 1))
        stack.enter_context(patch.object(database, "_SMALL", 1))
        stack.enter_context(patch.object(plain_read, "MOST_ODD", 1))
        return check_set(path, study)


def in_our_words(result: CheckResult) -> CheckResult:
    """Leave out why a table can't be opened: the database has two wordings of it."""
    told = (
        replace(one, reason="") if one.rule == "table_damaged" else one for one in result.findings
    )
    return replace(result, findings=tuple(told))


def difference(one: CheckResult, other: CheckResult) -> str:
    """Say in what two results differ: the first finding that only one of them has, or the rest."""
    alone = set(one.findings) ^ set(other.findings)
    if alone:
        return str(min(alone, key=lambda finding: finding.sort_key()))
    return f"{replace(one, findings=())} and {replace(other, findings=())}"


class Fuzzer:
    """Makes an input, checks it, judges what came of it."""

    def __init__(self, seed: int, root: Path, keep: Path) -> None:
        self.seed, self.root, self.keep = seed, root, keep
        self.bases = make_bases(STUDY / "study.toml")
        self.study = root / "study"
        self.study.mkdir()
        shutil.copy(STUDY / "study.toml", self.study)
        self.before = sha256sums(self.study)
        self.scratch = root / "scratch"
        self.scratch.mkdir()
        tempfile.tempdir = str(self.scratch)
        self.tally = Tally()
        check_set(self._written(self.bases["folder"], "folder"), self.study)
        self.guard = Guard(self.scratch)
        patch.object(rules, "Hints", Distrustful).start()

    def one(self, number: int) -> None:
        """Check input number ``number`` of this seed."""
        random = Random(f"{self.seed}.{number}")  # noqa: S311 - no secret
        form = random.choice(FORMS)
        files = mutated(self.bases[form], form, random)
        path = self._written(files, form)
        Distrustful.distrusts = number % DISTRUST_EVERY == 0
        problem = self._checked(path, again=number % LONG_EVERY == 0) or self._disturbed(number)
        self.tally.inputs += 1
        self.tally.forms[form] += 1
        if problem:
            self._keep(path, number, problem)

    def _written(self, files: Files, form: str) -> Path:
        place = self.root / "handed-in"
        shutil.rmtree(place, ignore_errors=True)
        place.mkdir()
        for name, data in files.items():
            (place / name).parent.mkdir(parents=True, exist_ok=True)
            (place / name).write_bytes(data)
        return place / next(iter(files)) if form in {"zip", "xlsx"} else place

    def _checked(self, path: Path, *, again: bool) -> str | None:
        """Check one set, as a long one too; gives what went wrong with the check itself."""
        started = time.process_time()
        faulthandler.dump_traceback_later(10 * SLOW_S, exit=True)
        self.guard.watching = True
        try:
            result = check_set(path, self.study)
            as_long = checked_as_long(path, self.study) if again else result
        except RigledgerError as error:
            self.tally.refused[error.code] += 1
        except BaseException:  # noqa: BLE001 - anything that gets out is what this is looking for
            return traceback.format_exc()
        else:
            self.tally.verdicts[result.verdict] += 1
            self.tally.rules.update({finding.rule for finding in result.findings})
            if result.verdict not in VERDICTS:
                return f"no verdict: {result.verdict!r}"
            if in_our_words(as_long) != in_our_words(result):
                return f"as a long set it is another: {difference(result, as_long)}"
        finally:
            self.guard.watching = False
            faulthandler.cancel_dump_traceback_later()
        taken = time.process_time() - started
        self.tally.slowest_s = max(self.tally.slowest_s, taken)
        return f"took {taken:.1f} s of processor time" if taken > SLOW_S else None

    def _disturbed(self, number: int) -> str | None:
        """Say what the check has changed that is not its own."""
        if self.guard.broken:
            return "\n".join(["reached outside:", *self.guard.broken])
        left = sorted(item.name for item in self.scratch.iterdir())
        if left:
            shutil.rmtree(self.scratch / left[0], ignore_errors=True)
            return f"left behind in the scratch folder: {left}"
        if peak_mb() > limit("parse.memory_mb"):
            return f"peak memory {peak_mb()} MB"
        if number % HASH_EVERY == 0 and sha256sums(self.study) != self.before:
            return "the study has changed"
        return None

    def _keep(self, path: Path, number: int, problem: str) -> None:
        self.guard.broken.clear()
        kept = self.keep / f"{self.seed}.{number}"
        shutil.copytree(path if path.is_dir() else path.parent, kept, dirs_exist_ok=True)
        (self.keep / f"{self.seed}.{number}.txt").write_text(problem, encoding="utf-8")
        self.tally.crashes.append((problem.strip().splitlines()[-1], kept))


def peak_mb() -> int:
    """Give the peak memory of this process; 0 on systems that don't say."""
    try:
        import resource
    except ImportError:
        return 0
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss // 1024


def bound_memory() -> None:
    """Let the system refuse memory beyond the limit, where it can: that is a crash then."""
    try:
        import resource
    except ImportError:
        return
    most = limit("parse.memory_mb") << 20
    resource.setrlimit(resource.RLIMIT_AS, (most, most))


def report(tally: Tally, seconds: float) -> None:
    """Print what was fed in and what came of it."""
    print(f"{tally.inputs} inputs in {seconds:.0f} s: {dict(tally.forms)}")
    print(f"verdicts: {dict(tally.verdicts)}; refused as no set: {dict(tally.refused)}")
    print(f"slowest {tally.slowest_s:.2f} s, peak memory {peak_mb()} MB")
    print(f"{len(tally.rules)} codes of findings met (in how many inputs):")
    for rule, count in tally.rules.most_common():
        print(f"  {rule} {count}")
    print(f"{len(tally.crashes)} crashes")
    for reason, kept in tally.crashes:
        print(f"  {reason}\n    input: {kept}")


def main() -> int:
    """Run for the stated time; 1 where anything crashed."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("--minutes", type=float, default=10.0)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", type=int, help="number of one input to check again")
    parser.add_argument("--keep", type=Path, default=Path("crashes"), help="folder for crashes")
    asked = parser.parse_args()
    asked.keep = asked.keep.absolute()
    bound_memory()
    with tempfile.TemporaryDirectory(prefix="fuzz-") as name:
        fuzzer = Fuzzer(asked.seed, Path(name), asked.keep)
        started = time.monotonic()
        number = 0
        if asked.only is not None:
            fuzzer.one(asked.only)
        while asked.only is None and time.monotonic() - started < 60 * asked.minutes:
            fuzzer.one(number)
            number += 1
        tempfile.tempdir = None
    report(fuzzer.tally, time.monotonic() - started)
    return 1 if fuzzer.tally.crashes else 0


if __name__ == "__main__":
    sys.exit(main())
