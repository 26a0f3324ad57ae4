"""Checks a stranger's set in a process of its own, with limits on memory, time, files and network.

Whatever a parser does with a file built to break it, it does there: when that process is stopped,
the check ends with a finding, and nothing but its scratch folder was ever written. Started with
`subprocess` alone, it works the same way on every system.
"""

from __future__ import annotations

import json
import re
import shutil
import signal
import tempfile
import threading
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.child import CHECKER, Waiting, as_utf8, taken
from rigledger.contract.load import load_contract
from rigledger.errors import ContractError, MissingExtraError, StudyError, raised_elsewhere
from rigledger.findings import Finding
from rigledger.intake.confine import ANSWER, EXTRACTS, KEPT, QUESTION, WORK
from rigledger.intake.gate import IntakeError
from rigledger.intake.limits import limit, named
from rigledger.intake.log import FindingLog
from rigledger.intake.result import CheckResult, NotRun, verdict_on
from rigledger.intake.text import excerpt

if TYPE_CHECKING:
    import subprocess
    from collections.abc import Callable

_KINDS = (IntakeError, StudyError, ContractError, MissingExtraError)
# Last words of the interpreter, the database or the C library for want of memory.
_WANTS_MEMORY = re.compile(r"MemoryError|bad_alloc|allocat|out of memory", re.IGNORECASE)


def check_apart(
    path: Path,
    study: Path | None,
    *,
    captures: bool = True,
    keep: Path | None = None,
    extracts: Path | None = None,
    meanwhile: Callable[[], object] = lambda: None,
) -> CheckResult:
    """Check a set as `check_set` does, in a child process with limits.

    Args:
        path: A folder, a .zip archive or one .xlsx workbook.
        study: The study's folder or its study.toml; None checks without one.
        captures: Whether frame times are read.
        keep: Folder to be made for the set's admission, as by `check_set`.
        extracts: The same of extracts; only where ``keep`` is given.
        meanwhile: What this process does besides while the child is at work.

    Returns:
        The result; where the child had to be stopped or fell over, one finding ``reader_stopped``.

    Raises:
        IntakeError: There is nothing at ``path`` that could be a set.
        StudyError: The study can't be read.
    """
    asked = {
        "path": as_utf8(path),
        "study": None if study is None else as_utf8(study),
        "captures": captures,
        "keep": keep is not None,
    }
    with tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as name:
        place = Path(name)
        (place / WORK).mkdir()
        (place / QUESTION).write_text(json.dumps(asked), encoding="utf-8")
        fault = _run(place, meanwhile)
        if fault is not None:
            return _stopped(fault)
        for made, target in ((KEPT, keep), (EXTRACTS, extracts)):
            if target is not None and (place / WORK / made).is_dir():
                shutil.move(place / WORK / made, target)
        return _result(json.loads((place / ANSWER).read_text(encoding="utf-8")))


def _run(place: Path, meanwhile: Callable[[], object]) -> str | None:
    """Run the child; says in words why it had to be stopped or fell over, None where it didn't."""
    child = taken(CHECKER)
    with child.errors, child.process as process:
        try:
            child.tell(place)
            load_contract()  # needed for the report
            meanwhile()
            return _fault(child, _ended(process, limit("parse.seconds")))
        finally:
            process.kill()


def _fault(child: Waiting, code: int | None) -> str | None:
    if code is None:
        return f"it ran into {named('parse.seconds')}"
    return _how_it_ended(code, child.last_words()) if code else None


def _ended(child: subprocess.Popen[bytes], seconds: float) -> int | None:
    """Wait for a process to end; gives its exit code, None where it goes on after the time.

    To wait with a time limit, Python looks at the process twenty times a second; a thread that
    waits without one notices the end at once.
    """
    waiting = threading.Thread(target=child.wait, daemon=True)
    waiting.start()
    waiting.join(seconds)
    return child.returncode


def _how_it_ended(code: int, last: str) -> str:
    """Say in words why a child ended without an answer, given its last words."""
    if _WANTS_MEMORY.search(last):
        return f"it ran into {named('parse.memory_mb')} ({excerpt(last)})"
    if code >= 0:
        return f"it fell over with exit code {code}: {excerpt(last)}"
    name = signal.Signals(-code).name
    if name in {"SIGXCPU", "SIGKILL"}:
        return f"the system ended it ({name}): it needed too much processor time or memory"
    return f"it fell over ({name})"


def _stopped(reason: str) -> CheckResult:
    log = FindingLog(load_contract())
    log.add("reader_stopped", f"reading the set had to be stopped: {reason}")
    findings = tuple(log.findings)
    return CheckResult(verdict_on(findings), findings, (), None)


def _result(held: dict[str, Any]) -> CheckResult:
    if "error" in held:
        raise raised_elsewhere(held["error"], _KINDS)
    if "stopped" in held:
        return _stopped(held["stopped"])
    findings = tuple(Finding(*row) for row in held["findings"])
    not_run = tuple(NotRun(*row) for row in held["not_run"])
    return CheckResult(
        verdict_on(findings), findings, not_run, held["set_id"], held["study"], held["counts"]
    )
