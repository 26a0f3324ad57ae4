"""How a demonstration study grew: the steps of its history.toml, and carrying them out.

A step admits sets as they were handed in, has others returned, declares corrections, and publishes
a version. Whatever is written goes to a folder under build/.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO

import environment

BUILD = environment.ROOT / "build"
# What an earlier run of the main job wrote, and is written anew; corrections come with their step.
MADE = {"decisions.toml", "releases.toml", "history.toml"}
FINDINGS = 1


class UnexpectedEndError(Exception):
    """A command ended otherwise than the history says."""


@dataclass(frozen=True)
class Growing:
    """A study that is built again step by step.

    Attributes:
        python: Interpreter that has the program.
        source: The study in datasets/.
        study: The study as it grows.
        log: Where the commands and what they print go.
    """

    python: Path
    source: Path
    study: Path
    log: TextIO

    def say(self, text: str) -> None:
        """Write a line of our own to the log."""
        self.log.write(text + "\n")
        self.log.flush()

    def handed_in(self, set_id: str) -> Path:
        """Give a set as its tester handed it in: without what admitting it added."""
        places = (self.source / part / set_id for part in ("sets", "later"))
        found = next(place for place in places if place.is_dir())
        copy = BUILD / "handed-in" / set_id
        shutil.rmtree(copy, ignore_errors=True)
        shutil.copytree(found, copy, ignore=shutil.ignore_patterns("SHA256SUMS"))
        return copy

    def rigledger(self, *arguments: str | Path, expect: int = 0) -> None:
        """Run a command and stop where it ends otherwise than expected."""
        shown = [_shown(part) for part in arguments]
        self.say(f"\n$ rigledger {' '.join(shown)}")
        done = subprocess.run(
            [str(part) for part in (self.python, "-m", "rigledger", *arguments)],
            cwd=environment.ROOT, env=os.environ | {"PYTHONUTF8": "1"}, check=False,
            stdout=self.log, stderr=subprocess.STDOUT,
        )  # fmt: skip
        if done.returncode != expect:
            raise UnexpectedEndError(f"exit code {done.returncode}, expected {expect}")


def _shown(part: str | Path) -> str:
    if isinstance(part, Path):
        return part.relative_to(environment.ROOT).as_posix()
    return f'"{part}"' if " " in part else part


def grow(python: Path, name: str, log: TextIO) -> list[Path]:
    """Take a study through its history.

    Args:
        python: Interpreter that has the program.
        name: Name of the study's folder in datasets/.
        log: An open file that what is printed goes to.

    Returns:
        Folders of its releases, oldest first; the last one was rechecked against the one before.

    Raises:
        UnexpectedEndError: A command failed, or did not find what it should.
    """
    growing = Growing(python, environment.ROOT / "datasets" / name, BUILD / name, log)
    _begin(growing)
    steps = tomllib.loads((growing.source / "history.toml").read_text(encoding="utf-8"))["steps"]
    releases: list[Path] = []
    for step in steps:
        growing.say(f"\n== {name}: {step['title']} ==")
        _take(growing, step)
        releases.append(_publish(growing, str(step["released_on"])))
    growing.rigledger("tables", growing.study)
    _recheck(growing, releases)
    return releases


def _begin(growing: Growing) -> None:
    shutil.rmtree(growing.study, ignore_errors=True)
    growing.study.mkdir(parents=True)
    for file in growing.source.glob("*.toml"):
        if file.name not in MADE:
            shutil.copy(file, growing.study)


def _take(growing: Growing, step: dict[str, Any]) -> None:
    if "corrections" in step:
        shutil.copy(growing.source / step["corrections"], growing.study / "corrections.toml")
    day = ("--received-on", str(step["received_on"]))
    waive = [part for item in step.get("waive", ()) for part in ("--waive", item)]
    given = [growing.handed_in(set_id) for set_id in step["admit"]]
    growing.rigledger("admit", growing.study, *given, *day, *waive)
    for set_id in step.get("return", ()):
        returned = growing.handed_in(set_id)
        growing.rigledger("admit", growing.study, returned, *day, expect=FINDINGS)


def _publish(growing: Growing, day: str) -> Path:
    folder = growing.study / "releases"
    before = set(folder.iterdir()) if folder.is_dir() else set()
    growing.rigledger("release", growing.study, "--on", day)
    (made,) = {path for path in folder.iterdir() if path.is_dir()} - before
    return made


def _recheck(growing: Growing, releases: list[Path]) -> None:
    before = ("--previous", releases[-2]) if len(releases) > 1 else ()
    growing.rigledger("recheck", releases[-1], *before)
