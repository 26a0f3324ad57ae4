"""A short run of the fault harness, and that it would see a writer who misbehaves."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="needs os.fork")
CI = Path(__file__).resolve().parents[2] / "ci"
# Counts the points of one deed in a folder of its own, and prints what was out of order.
WATCHED = """
import sys
from pathlib import Path
sys.path.insert(0, {ci!r})
from fault_points import Points
from rigledger import files
root = Path(sys.argv[1])
points = Points(root)
points.install()
{deed}
points.end()
print(*points.kinds)
print(*points.unordered, sep="\\n")
"""
WRITES_WELL = 'files.write_text(root / "a.txt", "text")'
NOT_SYNCED = 'files.sync_file = lambda path: None\nfiles.write_text(root / "a.txt", "text")'
NO_FOLDER = 'files.sync_folder = lambda path: None\nfiles.write_text(root / "a.txt", "text")'


def _run(*words: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(  # noqa: S603 - our own command
        [sys.executable, *words], capture_output=True, text=True, encoding="utf-8", check=False
    )


def test_whatever_is_killed_or_refused_the_study_is_as_before_or_as_after() -> None:
    done = _run(str(CI / "faults.py"), "--few", "9")
    assert done.returncode == 0, done.stdout + done.stderr
    assert re.search(r"9 disturbed runs, .*; 0 fell short", done.stdout)
    found = re.findall(r"^(admit|tables|release): (\d+) points", done.stdout, re.MULTILINE)
    assert [name for name, _ in found] == ["admit", "tables", "release"]
    assert sum(int(points) for _, points in found) >= 300
    assert len(re.findall(r" [1-9]\d* runs, found", done.stdout)) == 9


@pytest.mark.parametrize(
    ("deed", "kinds", "unordered"),
    [
        (WRITES_WELL, "open write open fsync rename fsync", []),
        (NOT_SYNCED, "open write rename fsync", ["a.txt: ", " is not synced before"]),
        (NO_FOLDER, "open write open fsync rename", [" is not synced in the end"]),
    ],
)
def test_the_harness_counts_what_is_written_and_sees_what_is_out_of_order(
    tmp_path: Path, deed: str, kinds: str, unordered: list[str]
) -> None:
    done = _run("-c", WATCHED.format(ci=str(CI), deed=deed), str(tmp_path))
    lines = done.stdout.splitlines()
    assert (lines[0], done.stderr) == (kinds, "")
    said = " ".join(lines[1:])
    assert bool(said) == bool(unordered)
    assert all(text in said for text in unordered)
