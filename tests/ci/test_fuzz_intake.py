"""Fuzzing runs for the time stated, says what it fed in, and would see the check misbehave."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

CI = Path(__file__).resolve().parents[2] / "ci"
# Stands in front of the command and puts a check that misbehaves in place of the real one.
MISBEHAVING = """
import sys
sys.path.insert(0, {ci!r})
sys.argv = ["fuzz_intake.py", *{words!r}]
import fuzz_intake
real = fuzz_intake.check_set
calls = 0
def check_set(path, study):
    global calls
    calls += 1
    if calls > 1:
        {deed}
    return real(path, study)
fuzz_intake.check_set = check_set
sys.exit(fuzz_intake.main())
"""


def run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 - our own command
        [sys.executable, *words], capture_output=True, text=True, encoding="utf-8", check=False
    )


def test_a_short_run_ends_in_time_without_a_crash(tmp_path: Path) -> None:
    done = run(
        str(CI / "fuzz_intake.py"), "--minutes", "0.05", "--seed", "7", "--keep", str(tmp_path)
    )
    assert "" == done.stderr
    assert 0 == done.returncode
    said = re.match(r"(\d+) inputs in (\d+) s", done.stdout)
    assert said is not None
    assert int(said[1]) > 0
    assert int(said[2]) < 15
    assert "\n0 crashes\n" in done.stdout
    assert [] == list(tmp_path.iterdir())


@pytest.mark.parametrize(
    ("deed", "named"),
    [
        ("raise KeyError('planted')", "KeyError: 'planted'"),
        ("import socket; socket.socket()", "socket.__new__"),
        ("(study.parent / 'elsewhere').write_text('')", "elsewhere"),
        ("import os; os.open(study / 'study.toml', os.O_RDWR)", "study.toml"),
        ("import tempfile; tempfile.mkdtemp(prefix='litter')", "left behind"),
        ("return real(path, study).__class__('fine', (), (), None)", "no verdict: 'fine'"),
    ],
)
def test_a_check_that_misbehaves_is_a_crash_that_keeps_its_input(
    tmp_path: Path, deed: str, named: str
) -> None:
    words = ["--only", "50", "--seed", "7", "--keep", str(tmp_path)]
    done = run("-c", MISBEHAVING.format(ci=str(CI), words=words, deed=deed))
    assert 1 == done.returncode, done.stderr
    assert "\n1 crashes\n" in done.stdout
    assert named in (tmp_path / "7.50.txt").read_text(encoding="utf-8")
    assert any((tmp_path / "7.50").iterdir())
