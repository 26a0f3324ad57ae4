"""What admitting a set and building tables load: loading is much of what they take."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence

DEMO = Path(__file__).resolve().parents[2] / "datasets" / "link-width"
# For releases, pages, charts and outside checks; scipy.stats is a third of what tables take.
NOT_NEEDED = [
    "altair", "frictionless", "great_expectations", "jinja2", "jsonschema", "pandas", "pandera",
    "pyarrow", "scipy.stats", "vl_convert", "xlsxwriter",
]  # fmt: skip
CODE = """
import sys
from rigledger.cli import app
for command in {commands!r}:
    try:
        app(command)
    except SystemExit as stopped:
        assert stopped.code in (None, 0), (command, stopped.code)
print("loaded:", *sorted(set({names!r}) & set(sys.modules)))
"""


def loaded_by(*commands: Sequence[str]) -> list[str]:
    """Run commands in a fresh process and give what they have loaded and need not."""
    code = CODE.format(commands=[list(command) for command in commands], names=NOT_NEEDED)
    done = subprocess.run(  # noqa: S603 - our own python
        [sys.executable, "-X", "utf8", "-c", code],
        capture_output=True, encoding="utf-8", check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout.rsplit("loaded:", 1)[1].split()


def test_admitting_a_set_and_building_tables_load_nothing_that_they_do_not_use(
    tmp_path: Path,
) -> None:
    study, handed_in = tmp_path / "study", tmp_path / "first"
    study.mkdir()
    shutil.copy(DEMO / "study.toml", study)
    leave_out = shutil.ignore_patterns("SHA256SUMS")
    shutil.copytree(DEMO / "sets" / "maren.first", handed_in, ignore=leave_out)

    admit = ["admit", str(study), str(handed_in), "--received-on", "2026-11-20"]
    assert loaded_by(admit, ["tables", str(study)]) == []
