"""What the README shows is what the commands print; its links lead somewhere."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).resolve().parents[2]
LINK = re.compile(r"\]\(([^)#]+)\)")


@pytest.mark.slow
def test_each_command_prints_what_the_readme_shows(
    walk_through: Callable[[Path, Path], None], demo_folder: Path
) -> None:
    walk_through(ROOT / "README.md", demo_folder)


@pytest.mark.parametrize("page", ["README.md", "DEVELOPERS.md"])
def test_every_link_to_a_file_leads_somewhere(page: str) -> None:
    links = LINK.findall((ROOT / page).read_text(encoding="utf-8"))

    assert [link for link in links if not (ROOT / link).exists()] == []


def test_the_two_commands_are_in_the_readme() -> None:
    page = (ROOT / "README.md").read_text(encoding="utf-8")

    assert "python3 ci/start.py" in page
    assert "python3 ci/test.py" in page
