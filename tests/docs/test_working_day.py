"""The page of a week at the bench runs as it stands, from the plan to the release."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]
TRUTH = ROOT / "tests" / "datasets" / "link-width-truth.toml"


@pytest.mark.slow
def test_each_step_of_the_week_does_what_the_page_shows(
    walk_through: Callable[[Path, Path], None], tmp_path: Path
) -> None:
    week = ROOT / "datasets" / "link-width" / "week.py"
    subprocess.run(  # noqa: S603 - our own script
        [sys.executable, str(week), "--truth", str(TRUTH), str(tmp_path)], check=True
    )
    walk_through(ROOT / "pipeline" / "docs" / "working-day.md", tmp_path)
