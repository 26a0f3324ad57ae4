"""What the README shows is what the commands print.

A block marked ``console`` is a session: lines after ``$`` are run one after the other in a folder
that holds a copy of ``datasets``, and what they print is compared; a line ``...`` stands for any
number of lines that the page leaves out.
"""

from __future__ import annotations

import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
LINK = re.compile(r"\]\(([^)#]+)\)")


def sessions(page: str) -> list[tuple[str, str]]:
    found = []
    for block in BLOCK.findall(page):
        for part in re.split(r"^\$ ", block, flags=re.MULTILINE)[1:]:
            command, _, shown = part.partition("\n")
            found.append((command, shown.strip("\n")))
    return found


def pattern_of(shown: str) -> re.Pattern[str]:
    lines = [
        r"(?:.*\n)*?" if line == "..." else re.escape(line) + r"\n" for line in shown.split("\n")
    ]
    return re.compile("".join(lines))


def prepare(folder: Path) -> None:
    """A study that nothing was admitted to yet, and the demonstration's sets as handed in."""
    shutil.copytree(ROOT / "datasets", folder / "datasets")
    study = folder / "my-study"
    study.mkdir()
    source = folder / "datasets" / "link-width"
    for name in ("study.toml", "corrections.toml"):
        if (source / name).exists():
            shutil.copy(source / name, study)
    leave_out = shutil.ignore_patterns("SHA256SUMS")
    shutil.copytree(source / "sets", folder / "handed-in", ignore=leave_out)


def run(command: str, folder: Path) -> subprocess.CompletedProcess[str]:
    words = shlex.split(command)
    assert words[0] == "rigledger"
    return subprocess.run(  # noqa: S603 - our own command
        [sys.executable, "-X", "utf8", "-m", "rigledger", *words[1:]],
        cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip


@pytest.mark.slow
def test_each_command_prints_what_the_readme_shows(tmp_path: Path) -> None:
    prepare(tmp_path)
    page = (ROOT / "README.md").read_text(encoding="utf-8")
    for command, shown in sessions(page):
        done = run(command, tmp_path)
        assert (command, done.returncode in {0, 1}, done.stderr) == (command, True, "")
        assert pattern_of(shown).fullmatch(done.stdout), f"$ {command}\n{done.stdout}"


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_every_link_to_a_file_leads_somewhere(page: str) -> None:
    links = LINK.findall((ROOT / page).read_text(encoding="utf-8"))

    assert [link for link in links if not (ROOT / link).exists()] == []


def test_the_two_commands_are_in_the_readme() -> None:
    page = (ROOT / "README.md").read_text(encoding="utf-8")

    assert "python3 ci/start.py" in page
    assert "python3 ci/test.py" in page
