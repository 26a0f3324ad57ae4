"""Fuzzing runs for the time stated, says what it fed in, and would see the check misbehave."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from pathlib import Path

import pytest

CI = Path(__file__).resolve().parents[2] / "ci"
# Stands in front of the command and puts a check that misbehaves in place of the real one: each
# deed in a run of its own, with what the run says in a file of its folder.
MISBEHAVING = """
import contextlib, functools, json, os, sys, tempfile
from pathlib import Path
sys.path.insert(0, {ci!r})
import fuzz_intake
real = fuzz_intake.check_set
fuzz_intake.make_bases = functools.cache(fuzz_intake.make_bases)
for number, deed in enumerate(json.loads(sys.argv[1])):
    calls = 0
    def check_set(path, study):
        global calls
        calls += 1
        if calls == 1:
            return real(path, study)
        held = dict(path=path, study=study, real=real, os=os, tempfile=tempfile)
        exec(f"def misbehave():\\n    {{deed}}\\n    return real(path, study)", held)
        return held["misbehave"]()
    fuzz_intake.check_set = check_set
    sys.argv = ["fuzz_intake.py", "--only", "50", "--seed", "7", "--keep", str(number)]
    with open(f"{{number}}.said", "w", encoding="utf-8") as said:
        with contextlib.redirect_stdout(said):
            print(fuzz_intake.main())
"""
DEEDS = {
    "raise KeyError('planted')": "KeyError: 'planted'",
    "import socket; socket.socket()": "socket.__new__",
    "(study.parent / 'elsewhere').write_text('')": "elsewhere",
    "os.open(study / 'study.toml', os.O_RDWR)": "study.toml",
    "tempfile.mkdtemp(prefix='litter')": "left behind",
    "return real(path, study).__class__('fine', (), (), None)": "no verdict: 'fine'",
}


def run(*words: str, folder: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 - our own command
        [sys.executable, *words],
        cwd=folder, capture_output=True, text=True, encoding="utf-8", check=False,
    )  # fmt: skip


def test_a_short_run_ends_in_time_without_a_crash(tmp_path: Path) -> None:
    done = run(
        str(CI / "fuzz_intake.py"), "--minutes", "0.015", "--seed", "7", "--keep", str(tmp_path)
    )
    assert "" == done.stderr
    assert 0 == done.returncode
    said = re.match(r"(\d+) inputs in (\d+) s", done.stdout)
    assert said is not None
    assert int(said[1]) > 0
    assert int(said[2]) < 15
    assert "\n0 crashes\n" in done.stdout
    assert [] == list(tmp_path.iterdir())


@pytest.fixture(scope="module")
def misbehaved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with what every deed came to: the command is started once for all."""
    folder = tmp_path_factory.mktemp("misbehaved")
    words = ["-c", MISBEHAVING.format(ci=str(CI)), json.dumps(list(DEEDS))]
    done = run(*words, folder=folder)
    assert (done.returncode, done.stderr) == (0, "")
    return folder


@pytest.mark.parametrize("deed", DEEDS)
def test_a_check_that_misbehaves_is_a_crash_that_keeps_its_input(
    misbehaved: Path, deed: str
) -> None:
    number = list(DEEDS).index(deed)
    said = (misbehaved / f"{number}.said").read_text(encoding="utf-8")
    assert "\n1 crashes\n" in said
    assert said.endswith("\n1\n")
    kept = misbehaved / str(number)
    assert DEEDS[deed] in (kept / "7.50.txt").read_text(encoding="utf-8")
    assert any((kept / "7.50").iterdir())
