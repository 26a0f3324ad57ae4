"""All checks of the project: lint, types and tests, in an environment of their own.

Usage: python3 ci/test.py [arguments for pytest]
"""

from __future__ import annotations

import os
import shutil
import subprocess
import sys

import environment

# What the tests use of the system, and the command that shows it is there.
DEBIAN_PACKAGES = {"chromium": "chromium", "libreoffice-calc": "soffice", "npm": "npm"}
# Tests that share what they prepare go to one process (tests/conftest.py), in their order there.
BY_GROUP = ("--dist", "loadscope", "--no-loadscope-reorder")
# Each test process has a processor of its own already; more threads would only wait for it.
ONE_THREAD_EACH = dict.fromkeys(
    ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "POLARS_MAX_THREADS"), "1"
)


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
    codes.append(environment.run(tests, **ONE_THREAD_EACH))
    said, _ = types.communicate()
    print(f"types: {said.rstrip()}", flush=True)
    codes.append(types.returncode)
    sys.exit(max(codes))


if __name__ == "__main__":
    main()
