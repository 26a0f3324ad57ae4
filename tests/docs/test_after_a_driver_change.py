"""The curator's page runs as it stands: each command, the correction, and what the releases say."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]
PAGE = ROOT / "pipeline" / "docs" / "after-a-driver-change.md"
STUDY = ROOT / "datasets" / "link-width"
QUOTED = re.compile(r"```markdown\n(.*?)```", re.DOTALL)
PLAN_FILES = ("plan.toml", "frame.csv", "sheet-bench.csv")


def prepare(folder: Path) -> None:
    """The study as it stood at its first release, and what was handed in afterwards."""
    shutil.copytree(
        STUDY, folder / "my-study", ignore=shutil.ignore_patterns("later", "releases*", "derived")
    )
    for path in (STUDY / "later").glob("*/result-set.toml"):
        shutil.copytree(path.parent, folder / "handed-in" / path.parent.name)


def halves(page: str) -> tuple[str, str, str]:
    """The page up to its correction, the correction, and the rest."""
    before, _, rest = page.partition("```toml\n")
    correction, _, after = rest.partition("```")
    return before, correction, after


@pytest.mark.slow
def test_each_step_does_what_the_page_shows(
    walk_through: Callable[[Path, Path], None], tmp_path: Path
) -> None:
    prepare(tmp_path)
    page = PAGE.read_text(encoding="utf-8")
    before, correction, after = halves(page)
    for text in (before, after):
        part = tmp_path / "part.md"
        part.write_text(text, encoding="utf-8")
        walk_through(part, tmp_path)
        (tmp_path / "my-study" / "corrections.toml").write_text(correction, encoding="utf-8")
    for name in PLAN_FILES:
        kept = STUDY / "later" / "retest-plan" / name
        assert (tmp_path / "retest-plan" / name).read_bytes() == kept.read_bytes(), name
    changes, tables = QUOTED.findall(page)
    releases = tmp_path / "my-study" / "releases"
    told = (releases / "link-width-1.1.0" / "CHANGES.md").read_text(encoding="utf-8")
    assert [line for line in changes.splitlines() if line not in told] == []
    derived = releases / "link-width-1.2.0" / "derived"
    names = ("counted_as_one", "pooled_changes")
    held = "".join((derived / f"{name}.csv").read_text(encoding="utf-8") for name in names)
    assert [line for line in tables.splitlines() if line not in held] == []


def test_the_correction_on_the_page_is_the_one_of_the_demonstration() -> None:
    _, correction, _ = halves(PAGE.read_text(encoding="utf-8"))
    kept = (STUDY / "later" / "corrections.toml").read_text(encoding="utf-8")
    assert correction in kept
