"""From a fresh checkout to two published studies: environment, then the main job on datasets/.

Usage: python3 ci/start.py

Each study is built anew in build/ from the result sets as they were handed in: check, admit,
tables, release, recheck. Nothing outside build/ and .venv/ is written.
"""

from __future__ import annotations

import shutil
import sys
import tomllib
from pathlib import Path

import environment

BUILD = environment.ROOT / "build"
STUDIES = ("driver-threading", "link-width")
# What an earlier run of the main job wrote, and is written anew.
MADE = {"decisions.toml", "releases.toml"}


def main() -> None:
    """Set up, then do the main job on each study of datasets/."""
    python = environment.ready("start.lock")
    releases = [_build(python, study) for study in STUDIES]
    print(
        "\n== What was found in the invented study, against what was planted in it ==", flush=True
    )
    environment.must([python, environment.ROOT / "ci" / "confusion.py", releases[-1]])
    print("\nReleases, each checked by rebuilding it:")
    for release in releases:
        print(f"  {release.relative_to(environment.ROOT)}")
        print(f"    open {release.relative_to(environment.ROOT) / 'index.html'} in a browser")


def _build(python: Path, name: str) -> Path:
    """Take a study from its handed-in sets to a rechecked release.

    Returns:
        The release's folder.
    """
    print(f"\n== The study {name} ==", flush=True)
    source, study = environment.ROOT / "datasets" / name, BUILD / name
    shutil.rmtree(study, ignore_errors=True)
    study.mkdir(parents=True)
    for file in source.glob("*.toml"):
        if file.name not in MADE:
            shutil.copy(file, study)
    decisions = tomllib.loads((source / "decisions.toml").read_text(encoding="utf-8"))["decisions"]
    for decision in decisions:
        _admit(python, source / "sets" / decision["set_id"], study, decision)
    _rigledger(python, "tables", study)
    day = max(str(decision["received_on"]) for decision in decisions)
    _rigledger(python, "release", study, "--on", day)
    (release,) = (study / "releases").iterdir()
    _rigledger(python, "recheck", release)
    return release


def _admit(python: Path, source: Path, study: Path, decision: dict[str, object]) -> None:
    """Hand a set in as its tester did: without what admitting it added."""
    handed_in = BUILD / "handed-in" / source.name
    shutil.rmtree(handed_in, ignore_errors=True)
    shutil.copytree(source, handed_in, ignore=shutil.ignore_patterns("SHA256SUMS"))
    _rigledger(python, "admit", study, handed_in, "--received-on", str(decision["received_on"]))


def _rigledger(python: Path, *arguments: str | Path) -> None:
    shown = [
        str(part.relative_to(environment.ROOT)) if isinstance(part, Path) else part
        for part in arguments
    ]
    print(f"\n$ rigledger {' '.join(shown)}", flush=True)
    code = environment.run([python, "-m", "rigledger", *arguments], PYTHONUTF8="1")
    if code:
        sys.exit(code)


if __name__ == "__main__":
    main()
