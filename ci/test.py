"""All checks of the project: lint, types and tests, in an environment of their own.

Usage: python3 ci/test.py [arguments for pytest]
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

import environment

if TYPE_CHECKING:
    from collections.abc import Iterator

# What the tests use of the system, and the command that shows it is there.
DEBIAN_PACKAGES = {"chromium": "chromium", "libreoffice-calc": "soffice", "npm": "npm"}
# Tests that share what they prepare go to one process (tests/conftest.py), in their order there.
BY_GROUP = ("--dist", "loadscope", "--no-loadscope-reorder")
# Each test process has a processor of its own already; more threads would only wait for it.
ONE_THREAD_EACH = dict.fromkeys(
    ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "POLARS_MAX_THREADS"), "1"
)
# A folder in memory, on Linux. Tests write some hundred megabytes in many thousand small files, and
# put them on the disk one by one, as the program does: that takes a fifth of their time.
IN_MEMORY = Path("/dev/shm")  # noqa: S108 - a folder of its own is made in it
ROOM = 4 << 30


@contextmanager
def place_for_files() -> Iterator[dict[str, str]]:
    """Give what makes tests write in memory, where there is room; their files go at the end.

    Who says in TMPDIR where they are to be written, finds them there afterwards.
    """
    try:
        is_room = shutil.disk_usage(IN_MEMORY).free > ROOM and os.access(IN_MEMORY, os.W_OK)
    except OSError:
        is_room = False
    if not is_room or "TMPDIR" in os.environ:
        yield {}
        return
    with tempfile.TemporaryDirectory(
        prefix="rigledger-tests-", dir=IN_MEMORY, ignore_cleanup_errors=True
    ) as name:
        yield {"TMPDIR": name}


def main() -> None:
    """Install what is missing, then run every check; the worst one decides the exit code."""
    missing = [name for name, command in DEBIAN_PACKAGES.items() if shutil.which(command) is None]
    if missing and not environment.debian_packages(missing):
        print(f"tests that need {', '.join(missing)} will be skipped", file=sys.stderr)
    python = environment.ready("test.lock")
    environment.must([python, environment.ROOT / "ci" / "readers" / "programs.py"])
    workers = str(min(4, os.cpu_count() or 1))
    tests = [python, "-m", "pytest", "-q", "-n", workers, *BY_GROUP, *sys.argv[1:]]
    # Types take one processor for a while; the tests go on beside them.
    types = subprocess.Popen(
        [str(python), "-m", "mypy"],
        cwd=environment.ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        encoding="utf-8",
    )
    tools = [["ruff", "check"], ["ruff", "format", "--check"]]
    codes = [environment.run([python, "-m", *tool]) for tool in tools]
    with place_for_files() as place:
        codes.append(environment.run(tests, **ONE_THREAD_EACH, **place))
    said, _ = types.communicate()
    print(f"types: {said.rstrip()}", flush=True)
    codes.append(types.returncode)
    sys.exit(max(codes))


if __name__ == "__main__":
    main()
