"""The definitions for a study's own repository do what they say when their commands are run."""

from __future__ import annotations

import json
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest
import yaml

ROOT = Path(__file__).resolve().parents[2]
DEFINITIONS = ROOT / "ci" / "definitions"
STUDY = ROOT / "datasets" / "link-width"
ALL = sorted(DEFINITIONS.glob("*/*.yml"))


def read(name: str) -> dict[str, Any]:
    held = yaml.safe_load((DEFINITIONS / name).read_text(encoding="utf-8"))
    assert isinstance(held, dict)
    return held


def commands(name: str, job: str) -> list[str]:
    held = read(name)
    if "jobs" in held:
        return [step["run"] for step in held["jobs"][job]["steps"] if "run" in step]
    return list(held[job]["script"])


def checking(name: str, job: str) -> str:
    (command,) = [line for line in commands(name, job) if "check_sets" in line]
    return command


@pytest.fixture
def repository(tmp_path: Path) -> Path:
    """A study's repository with one merge request that adds a set."""
    shutil.copy(STUDY / "study.toml", tmp_path)
    (tmp_path / "ci").mkdir()
    shutil.copy(DEFINITIONS / "check_sets.py", tmp_path / "ci")
    shutil.copytree(
        STUDY / "sets" / "maren.first", tmp_path / "inbox" / "first",
        ignore=shutil.ignore_patterns("SHA256SUMS"),
    )  # fmt: skip
    return tmp_path


def run_check(command: str, folder: Path) -> int:
    words = shlex.split(command)
    assert words[0] == "python"
    done = subprocess.run(  # noqa: S603 - our own script
        [sys.executable, *words[1:]], cwd=folder, check=False, capture_output=True
    )
    return done.returncode


def test_a_good_set_passes_and_its_report_is_written(repository: Path) -> None:
    (command,) = [
        line for line in commands("gitlab/gitlab-ci.yml", "check-sets") if "check_sets" in line
    ]

    code = run_check(command, repository)

    report = (repository / "report" / "report.md").read_text(encoding="utf-8")
    assert (code, "maren" in report) == (0, True)
    assert sorted(path.name for path in (repository / "report").iterdir()) == [
        "report.md", "set-1.sarif", "set-1.xml",
    ]  # fmt: skip


def test_a_returned_set_fails_the_job_and_says_why(repository: Path) -> None:
    runs = repository / "inbox" / "first" / "runs.csv"
    lines = runs.read_text(encoding="utf-8").splitlines(keepends=True)
    runs.write_text(
        "".join([lines[0], lines[1].replace("x16", "x17"), *lines[2:]]), encoding="utf-8"
    )
    (repository / "base").mkdir()
    shutil.copy(repository / "study.toml", repository / "base")
    shutil.move(repository / "ci", repository / "base" / "ci")
    (command,) = [
        line for line in commands("github/check-sets.yml", "check") if "check_sets" in line
    ]

    code = run_check(command, repository)

    report = (repository / "report" / "report.md").read_text(encoding="utf-8")
    sarif = json.loads((repository / "report" / "set-1.sarif").read_text(encoding="utf-8"))
    assert (code, "x17" in report, bool(sarif["runs"][0]["results"])) == (1, True, True)


def test_an_empty_inbox_fails_the_job(repository: Path) -> None:
    shutil.rmtree(repository / "inbox")

    assert run_check("python ci/check_sets.py", repository) == 1


@pytest.mark.parametrize("path", ALL, ids=lambda path: path.parent.name + "-" + path.stem)
def test_the_job_that_reads_a_strangers_files_holds_no_secret(path: Path) -> None:
    held = yaml.safe_load(path.read_text(encoding="utf-8"))
    jobs = held.get("jobs", {name: job for name, job in held.items() if isinstance(job, dict)})
    checking = {
        name: json.dumps(job) for name, job in jobs.items() if "check_sets" in json.dumps(job)
    }

    assert [name for name, job in checking.items() if "secrets." in job or "TOKEN" in job] == []


def test_the_job_that_posts_checks_nothing_out() -> None:
    steps = json.dumps(read("github/post-report.yml"))

    assert ("checkout" in steps, "rigledger" in steps) == (False, False)


def test_the_checking_job_may_only_read() -> None:
    assert read("github/check-sets.yml")["permissions"] == {"contents": "read"}
