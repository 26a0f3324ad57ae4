"""Asks those who judge a release: here, one after the other, or in processes beside.

The rules on its sets, great-expectations and frictionless take most of a release's time, the last
two a second each to load. Processes beside do all that while this one loads the study, builds its
tables and writes them.
"""

from __future__ import annotations

import contextlib
import importlib
import json
import os
import subprocess
import sys
import traceback
from contextlib import contextmanager
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import IO, TYPE_CHECKING, Any, Protocol

from rigledger.child import last_line, start
from rigledger.errors import (
    ContractError,
    MissingExtraError,
    RigledgerError,
    StudyError,
    raised_elsewhere,
)
from rigledger.intake.gate import IntakeError
from rigledger.release.errors import ReleaseError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

# Functions that take and give JSON values. They are named, as another process finds them by name.
CHECK = "rigledger.release.set_findings.found_in"
EVALUATE = "rigledger.release.evaluate.outcomes"
READ = "rigledger.release.validate.problems_by_resource"
_KINDS = (ReleaseError, IntakeError, StudyError, ContractError, MissingExtraError)


class Judges(Protocol):
    """Who judges a release."""

    def ask(self, function: str, *given: Any) -> Callable[[], Any]:  # noqa: ANN401 - JSON values
        """Have a function called; gives what waits for its result and gives or raises that.

        Args:
            function: Full name of a function that takes and gives JSON values.
            given: Its arguments.
        """


class JudgesHere:
    """Judges when an answer is wanted, in this process."""

    def ask(self, function: str, *given: Any) -> Callable[[], Any]:  # noqa: ANN401 - JSON values
        """As of `Judges`."""
        return partial(_call, function, given)


class JudgesBeside:
    """Judges in two processes beside: one for the rules, one for the programs that load long."""

    def __init__(self, rules: Process, programs: Process) -> None:
        """Ask two processes."""
        self._rules, self._programs = rules, programs

    def ask(self, function: str, *given: Any) -> Callable[[], Any]:  # noqa: ANN401 - JSON values
        """As of `Judges`."""
        process = self._rules if function == CHECK else self._programs
        return process.ask(function, *given)


class Process:
    """A process that answers question after question."""

    def __init__(self, place: Path, child: subprocess.Popen[bytes]) -> None:
        """Ask a process that works in a folder."""
        self._place, self._child = place, child
        self._questions, self._answers = _pipe(child.stdin), _pipe(child.stdout)
        self._asked = self._answered = 0

    def ask(self, function: str, *given: Any) -> Callable[[], Any]:  # noqa: ANN401 - JSON values
        """As of `Judges`."""
        number = self._asked
        self._asked += 1
        # Questions and answers lie in files: a pipe that is full would stop both processes.
        question = json.dumps([function, given])
        _question(self._place, number).write_text(question, encoding="utf-8")
        # That the process fell over is said when it should answer.
        with contextlib.suppress(OSError):
            self._questions.write(b"\n")
            self._questions.flush()
        return partial(self._answer, number)

    def _answer(self, number: int) -> Any:  # noqa: ANN401 - a JSON value
        while self._answered <= number:
            if not self._answers.read(1):
                raise self._fallen()
            self._answered += 1
        held = json.loads(_answer(self._place, number).read_text(encoding="utf-8"))
        if "error" in held:
            raise raised_elsewhere(held["error"], _KINDS)
        if "fault" in held:
            raise _fault(held["fault"])
        return held["value"]

    def _fallen(self) -> ReleaseError:
        code = self._child.wait()
        says = _errors(self._place).read_text(encoding="utf-8", errors="replace").split("\n")
        return _fault(f"it ended with exit code {code}: {last_line(says)}")


def _pipe(stream: IO[bytes] | None) -> IO[bytes]:
    if stream is None:
        raise ValueError("the process was started without a pipe to ask it by")
    return stream


def _fault(reason: str) -> ReleaseError:
    return ReleaseError(
        f"the process that judges the release fell over: {reason}",
        next_step="see that there is memory and disk space left, then release again",
    )


@contextmanager
def judges_beside() -> Iterator[Judges]:
    """Start processes that judge, and let one load what takes long; they are stopped at the end."""
    with _process() as rules, _process() as programs:
        programs.ask(f"{__name__}.{load_programs.__name__}")
        yield JudgesBeside(rules, programs)


@contextmanager
def _process() -> Iterator[Process]:
    with (
        TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as name,
        _errors(Path(name)).open("wb") as errors,
        start(__name__, Path(name), errors, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as child,
    ):
        try:
            yield Process(Path(name), child)
        finally:
            child.kill()


@contextmanager
def judges_here() -> Iterator[Judges]:
    """Judge in this process."""
    yield JudgesHere()


def _question(place: Path, number: int) -> Path:
    return place / f"question-{number}.json"


def _answer(place: Path, number: int) -> Path:
    return place / f"answer-{number}.json"


def _errors(place: Path) -> Path:
    return place / "errors.txt"


def main() -> None:
    """Answer question after question in the folder of the first argument, to the last."""
    place = Path(sys.argv[1])
    answers = os.dup(1)
    os.dup2(2, 1)  # what a library prints is no answer
    sys.dont_write_bytecode = True
    with contextlib.suppress(KeyboardInterrupt, BrokenPipeError):
        for number, _ in enumerate(sys.stdin.buffer):
            function, given = json.loads(_question(place, number).read_text(encoding="utf-8"))
            held = json.dumps(_answered(function, given))
            _answer(place, number).write_text(held, encoding="utf-8")
            os.write(answers, b".")


def _answered(function: str, given: list[Any]) -> dict[str, Any]:
    try:
        return {"value": _call(function, given)}
    except RigledgerError as error:
        return {"error": error.as_dict()}
    except Exception:  # noqa: BLE001 - whatever it was, it is said by who asked
        return {"fault": last_line(traceback.format_exc().split("\n"))}


def _call(function: str, given: Any) -> Any:  # noqa: ANN401 - JSON values
    module, _, name = function.rpartition(".")
    return getattr(importlib.import_module(module), name)(*given)


def load_programs() -> None:
    """Load great-expectations and frictionless, as far as they are installed."""
    from rigledger.release.evaluate import great_expectations
    from rigledger.release.validate import load_frictionless

    for load in (great_expectations, load_frictionless):
        with contextlib.suppress(MissingExtraError):  # said when it is needed
            load()
