"""Runs the commands that a page of the docs shows, and compares what they print.

A block marked ``console`` is a session: lines after ``$`` are run one after the other in a folder
that holds a copy of ``datasets``, and what they print is compared; a line ``...`` stands for any
number of lines that the page leaves out, and ``...`` inside a line for what differs every time. A
block marked with a language and a file, as ``toml my-study/claims.toml``, is written to that file
when the page comes to it; one marked ``shown`` and a file is what the file holds by then.
"""

from __future__ import annotations

import re
import shlex
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from typer.testing import CliRunner

from rigledger.cli import app
from rigledger.release.judges import judges_here

if TYPE_CHECKING:
    from collections.abc import Callable

    from rigledger.intake.result import CheckResult

ROOT = Path(__file__).resolve().parents[2]
BLOCK = re.compile(r"^(```+)(console|\w+ [\w./-]+)\n(.*?)^\1$", re.DOTALL | re.MULTILINE)


def steps(page: str) -> list[tuple[str, str, str]]:
    """Give the steps of a page: ``$``, command, what is shown; or language, file, its text."""
    found = []
    for _, kind, block in BLOCK.findall(page):
        if kind != "console":
            language, _, file = kind.partition(" ")
            found.append((language, file, block))
            continue
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, shown = part.partition("\n")
            found.append(("$", command, shown.strip("\n")))
    return found


def pattern_of(shown: str) -> re.Pattern[str]:
    lines = [
        r"(?:.*\n)*?" if line == "..." else re.escape(line).replace(r"\.\.\.", ".+") + r"\n"
        for line in shown.split("\n")
    ]
    return re.compile("".join(lines))


@pytest.fixture
def demo_folder(tmp_path: Path) -> Path:
    """A study that nothing was admitted to yet, and the demonstration's sets as handed in."""
    shutil.copytree(ROOT / "datasets", tmp_path / "datasets")
    study = tmp_path / "my-study"
    study.mkdir()
    source = tmp_path / "datasets" / "link-width"
    for name in ("study.toml", "corrections.toml"):
        if (source / name).exists():
            shutil.copy(source / name, study)
    leave_out = shutil.ignore_patterns("SHA256SUMS")
    shutil.copytree(source / "sets", tmp_path / "handed-in", ignore=leave_out)
    return tmp_path


@pytest.fixture(scope="session")
def walk_through(check_here: Callable[..., CheckResult]) -> Callable[[Path, Path], None]:
    """Run every command of a page in a folder, within this process: libraries load once.

    The README's release is judged by outside programs too, in processes beside, and its sets are
    checked in a process of their own; for the other pages, where this takes as long again, neither
    is done: ci/start.py makes their releases with that judgement.
    """

    def walk(page: Path, folder: Path) -> None:
        with pytest.MonkeyPatch.context() as patch:
            patch.chdir(folder)
            if page.name != "README.md":
                patch.setattr("rigledger.release.write.refuse_invalid", lambda *_: None)
                patch.setattr("rigledger.study.admit.check_apart", check_here)
                patch.setattr("rigledger.release.publish.judges_beside", judges_here)
            for kind, what, text in steps(page.read_text(encoding="utf-8")):
                take(kind, what, text)

    def take(kind: str, what: str, text: str) -> None:
        if kind == "$":
            run(what, text)
        elif kind == "shown":
            held = Path(what).read_text(encoding="utf-8")
            assert pattern_of(text.strip("\n")).fullmatch(held.strip("\n") + "\n"), held
        else:
            Path(what).write_text(text, encoding="utf-8", newline="\n")

    def run(command: str, shown: str) -> None:
        words = shlex.split(command)
        assert words[0] == "rigledger", command
        done = CliRunner().invoke(app, words[1:], catch_exceptions=False)
        assert (command, done.exit_code in {0, 1}, done.stderr) == (command, True, "")
        assert pattern_of(shown).fullmatch(done.stdout), f"$ {command}\n{done.stdout}"

    return walk
