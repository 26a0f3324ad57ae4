"""The project's own virtual environment: made once, kept up to date with its lock file.

Standard library only: this runs on a fresh machine with nothing but Python.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
HOME = ROOT / ".venv"
OLDEST_PYTHON = (3, 11)


def python() -> Path:
    """Give the environment's Python."""
    return HOME / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


# Where no compiled modules are kept, each process compiles the whole program anew, and the tests
# start hundreds of them.
KEEP_COMPILED = {"PYTHONDONTWRITEBYTECODE": ""}


def run(command: list[str | Path], **environment: str) -> int:
    """Run a command in the checkout's folder with its output shown; give its exit code."""
    return subprocess.run(
        [str(part) for part in command],
        cwd=ROOT,
        env=os.environ | KEEP_COMPILED | environment,
        check=False,
    ).returncode


def must(command: list[str | Path], **environment: str) -> None:
    """Run a command and stop with its exit code when it fails."""
    if code := run(command, **environment):
        print(f"failed ({code}): {' '.join(str(part) for part in command)}", file=sys.stderr)
        sys.exit(code)


def ready(lock: str) -> Path:
    """Make the environment hold what a lock file lists, and the project itself.

    Args:
        lock: Name of the lock file in ci/.

    Returns:
        The environment's Python.
    """
    if sys.version_info < OLDEST_PYTHON:
        sys.exit(f"Python {'.'.join(map(str, OLDEST_PYTHON))} or newer is needed")
    lock_file = ROOT / "ci" / lock
    stamp = HOME / f"{lock}.stamp"
    wanted = _fingerprint(lock_file)
    if stamp.is_file() and python().exists() and stamp.read_text(encoding="utf-8") == wanted:
        return python()
    if not python().exists():
        _make()
    print(f"installing what ci/{lock} lists ...", flush=True)
    pip: list[str | Path] = [python(), "-m", "pip", "--disable-pip-version-check", "install", "-q"]
    must([*pip, "-r", lock_file])
    must([*pip, "--no-deps", "-e", ROOT])
    stamp.write_text(wanted, encoding="utf-8")
    return python()


def _fingerprint(lock_file: Path) -> str:
    digest = hashlib.sha256(lock_file.read_bytes())
    digest.update((ROOT / "pyproject.toml").read_bytes())
    digest.update(sys.version.encode("utf-8"))
    return digest.hexdigest()


def _make() -> None:
    print(f"making a virtual environment in {HOME.name} ...", flush=True)
    if run([sys.executable, "-m", "venv", HOME]) == 0:
        return
    # Debian ships Python without the module that puts pip into a new environment.
    shutil.rmtree(HOME, ignore_errors=True)
    debian_packages(["python3-venv"])
    must([sys.executable, "-m", "venv", HOME])


def debian_packages(names: list[str]) -> bool:
    """Install Debian packages where apt-get exists and may be used.

    Returns:
        Whether they are installed now.
    """
    apt = shutil.which("apt-get")
    if apt is None:
        print(f"no apt-get here; wanted: {' '.join(names)}")
        return False
    may = getattr(os, "geteuid", lambda: 1)() == 0
    prefix: list[str | Path] = [] if may else ["sudo", "-n"]
    quiet = {"DEBIAN_FRONTEND": "noninteractive"}
    wanted = [*prefix, apt, "install", "-y", "-qq", "--no-install-recommends", *names]
    return run([*prefix, apt, "update", "-qq"], **quiet) == 0 and run(wanted, **quiet) == 0
