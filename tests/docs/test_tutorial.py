"""The tutorial leads from an empty folder to a published study, as its page shows."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from collections.abc import Callable

DOCS = Path(__file__).resolve().parents[2] / "pipeline" / "docs"
LINK = re.compile(r"\]\(([^)#]+)\)")


@pytest.mark.slow
def test_the_hour_ends_with_a_published_study(
    walk_through: Callable[[Path, Path], None], tmp_path: Path
) -> None:
    (tmp_path / "first").mkdir()
    walk_through(DOCS / "tutorial.md", tmp_path)
    release = tmp_path / "first" / "releases" / "background-recording-1.0.0"
    assert (release / "index.html").is_file()
    assert (tmp_path / "site" / "feed.xml").is_file()


@pytest.mark.parametrize("page", [path.name for path in sorted(DOCS.glob("*.md"))])
def test_every_link_of_the_docs_leads_somewhere(page: str) -> None:
    links = LINK.findall((DOCS / page).read_text(encoding="utf-8"))
    assert [link for link in links if not (DOCS / link).exists()] == []
