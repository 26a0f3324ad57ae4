"""The page of claims shows what the commands print."""

from __future__ import annotations

import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]


@pytest.mark.slow
def test_each_command_prints_what_the_page_shows(
    walk_through: Callable[[Path, Path], None], tmp_path: Path
) -> None:
    source = ROOT / "datasets" / "link-width"
    leave_out = shutil.ignore_patterns("derived", "releases")
    shutil.copytree(source, tmp_path / "datasets" / "link-width", ignore=leave_out)
    walk_through(ROOT / "pipeline" / "docs" / "claims.md", tmp_path)
