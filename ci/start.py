"""From a fresh checkout to two published studies: environment, then the main job on datasets/.

Usage: python3 ci/start.py

Each study is built anew in build/ from the result sets as they were handed in, step by step as its
history.toml says: check, admit, correct, release; then the tables, and a recheck of the newest
release against the one before. The two studies grow side by side. Nothing outside build/ and .venv/
is written.
"""

from __future__ import annotations

import sys
import tempfile
from concurrent.futures import Future, ThreadPoolExecutor
from typing import TYPE_CHECKING, TextIO

import environment
import history

if TYPE_CHECKING:
    from pathlib import Path

STUDIES = ("driver-threading", "link-width")


def main() -> None:
    """Set up, then do the main job on each study of datasets/."""
    python = environment.ready("start.lock")
    releases = _grow(python)
    print(
        "\n== What was found in the invented study, against what was planted in it ==", flush=True
    )
    found = releases[STUDIES[-1]][-1]
    environment.must([python, environment.ROOT / "ci" / "confusion.py", found])
    print("\nReleases, oldest first; the newest of each study was checked by rebuilding it:")
    for study in STUDIES:
        _list(releases[study])


def _grow(python: Path) -> dict[str, list[Path]]:
    """Grow the studies side by side; what they print is shown one study after the other."""
    with (
        tempfile.TemporaryFile("w+", encoding="utf-8") as later,
        ThreadPoolExecutor() as pool,
    ):
        logs: dict[str, TextIO] = dict(zip(STUDIES, (sys.stdout, later), strict=True))
        growing = {
            study: pool.submit(history.grow, python, study, log) for study, log in logs.items()
        }
        made = {STUDIES[0]: _result(growing[STUDIES[0]])}
        print(f"\n{STUDIES[1]} is growing beside it; what it said:", flush=True)
        growing[STUDIES[1]].exception()
        later.seek(0)
        print(later.read(), flush=True)
        return made | {STUDIES[1]: _result(growing[STUDIES[1]])}


def _result(growing: Future[list[Path]]) -> list[Path]:
    try:
        return growing.result()
    except history.UnexpectedEndError as error:
        sys.exit(f"stopped: {error}")


def _list(releases: list[Path]) -> None:
    places = [release.relative_to(environment.ROOT).as_posix() for release in releases]
    print(*(f"  {place}" for place in places), sep="\n")
    print(f"    open {places[-1]}/index.html in a browser; what changed is in its CHANGES.md")


if __name__ == "__main__":
    main()
