"""Checks a stranger's set in a process of its own, with limits on memory, time, files and network.

Whatever a parser does with a file built to break it, it does there: when that process is stopped,
the check ends with a finding, and nothing but its scratch folder was ever written.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from rigledger.contract.load import load_contract
from rigledger.errors import RigledgerError, StudyError
from rigledger.findings import Finding
from rigledger.intake.gate import IntakeError
from rigledger.intake.limits import limit, named
from rigledger.intake.log import FindingLog
from rigledger.intake.result import CheckResult, NotRun, verdict_on

_ERRORS: dict[str, type[RigledgerError]] = {"intake": IntakeError, "study": StudyError}
# Events of the interpreter that reading a set never needs.
_REFUSED = ("socket.", "subprocess.Popen", "os.system", "os.exec", "os.posix_spawn", "os.fork")


def check_apart(path: Path, study: Path | None, *, captures: bool = True) -> CheckResult:
    """Check a set as `check_set` does, in a child process with limits.

    Args:
        path: A folder, a .zip archive or one .xlsx workbook.
        study: The study's folder or its study.toml; None checks without one.
        captures: Whether frame times are read.

    Returns:
        The result; where the child had to be stopped, one finding ``reader_stopped``.

    Raises:
        IntakeError: There is nothing at ``path`` that could be a set.
        StudyError: The study can't be read.
    """
    asked = {
        "path": str(path.absolute()),
        "study": None if study is None else str(study.absolute()),
        "captures": captures,
    }
    with tempfile.TemporaryDirectory(prefix="rigledger-", ignore_cleanup_errors=True) as scratch:
        command = [sys.executable, "-I", "-m", "rigledger.intake.apart"]
        there = dict.fromkeys(("TMPDIR", "TEMP", "TMP"), scratch)
        try:
            done = subprocess.run(  # noqa: S603 - our own interpreter and module
                command,
                input=json.dumps(asked).encode("utf-8"),
                capture_output=True,
                timeout=limit("parse.seconds"),
                check=False,
                env=os.environ | there,
            )
        except subprocess.TimeoutExpired:
            return _stopped(f"it ran into {named('parse.seconds')}")
    if done.returncode != 0 or not done.stdout:
        return _stopped(f"it ran into {named('parse.memory_mb')}, or ended by itself")
    return _result(json.loads(done.stdout))


def _stopped(reason: str) -> CheckResult:
    log = FindingLog(load_contract())
    log.add("reader_stopped", f"reading the set had to be stopped: {reason}")
    findings = tuple(log.findings)
    return CheckResult(verdict_on(findings), findings, (), None)


def _result(held: dict[str, Any]) -> CheckResult:
    if "error" in held:
        raise _ERRORS[held["error"]](*held["fields"])
    findings = tuple(Finding(*row) for row in held["findings"])
    not_run = tuple(NotRun(*row) for row in held["not_run"])
    return CheckResult(
        verdict_on(findings), findings, not_run, held["set_id"], held["study"], held["counts"]
    )


def _confine(scratch: Path) -> None:
    """Limit this process, then refuse what reading a set never needs."""
    try:
        import resource
    except ImportError:  # a system without such limits still has the time limit and the refusals
        pass
    else:
        memory = limit("parse.memory_mb") * 1024 * 1024
        resource.setrlimit(resource.RLIMIT_AS, (memory, memory))
        seconds = limit("parse.seconds")
        resource.setrlimit(resource.RLIMIT_CPU, (seconds, seconds))
        resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    inside = str(scratch.resolve())

    def refuse(event: str, arguments: tuple[Any, ...]) -> None:
        if event.startswith(_REFUSED):
            raise PermissionError(event)
        if event == "open" and _writes(arguments) and not _is_inside(arguments[0], inside):
            raise PermissionError(f"writing {arguments[0]!r}")

    sys.addaudithook(refuse)


def _writes(arguments: tuple[Any, ...]) -> bool:
    mode, flags = arguments[1], arguments[2]
    if isinstance(mode, str):
        return any(sign in mode for sign in "wax+")
    return isinstance(flags, int) and bool(flags & (os.O_WRONLY | os.O_RDWR))


def _is_inside(path: object, folder: str) -> bool:
    if not isinstance(path, str | bytes | os.PathLike):
        return True  # a handle that is open already
    return os.path.realpath(os.fsdecode(path)).startswith((folder, os.devnull))


def main() -> None:
    """Read the question from standard input, check, write the answer to standard output."""
    asked = json.loads(sys.stdin.buffer.read())
    from rigledger.intake.check import check_set

    sys.dont_write_bytecode = True
    _confine(Path(tempfile.gettempdir()))
    study = None if asked["study"] is None else Path(asked["study"])
    try:
        result = check_set(Path(asked["path"]), study, captures=asked["captures"])
    except (IntakeError, StudyError) as error:
        fields = [error.message, error.file, error.row, error.column, error.value, error.next_step]
        held: dict[str, Any] = {"error": error.code, "fields": fields}
    else:
        held = {
            "findings": [list(finding.as_dict().values()) for finding in result.findings],
            "not_run": [[item.rule, item.because] for item in result.not_run],
            "set_id": result.set_id,
            "study": result.study,
            "counts": dict(result.counts),
        }
    sys.stdout.buffer.write(json.dumps(held).encode("utf-8"))


if __name__ == "__main__":
    main()
