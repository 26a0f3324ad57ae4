"""The charting library is bundled once and kept; a kept file that was altered is not used."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
import vl_convert

from rigledger.page import library

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def bundles(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> list[str]:
    """Stands in for the bundling, which takes seconds, and counts how often it is done."""
    done: list[str] = []

    def bundle() -> str:
        done.append("bundled")
        return "var ä = 1;"

    monkeypatch.setattr(vl_convert, "javascript_bundle", bundle)
    monkeypatch.setattr(library, "_folder", lambda: tmp_path / "kept")
    return done


def test_it_is_bundled_once(bundles: list[str]) -> None:
    assert [library._bundle() for _ in range(3)] == ["var ä = 1;"] * 3
    assert len(bundles) == 1


@pytest.mark.parametrize("damaged", [b"var a = 1;", b"", b"\xff"])
def test_a_kept_file_that_was_altered_is_replaced(
    bundles: list[str], tmp_path: Path, damaged: bytes
) -> None:
    library._bundle()
    (file,) = (tmp_path / "kept").iterdir()
    file.write_bytes(damaged)
    assert [library._bundle() for _ in range(2)] == ["var ä = 1;"] * 2
    assert len(bundles) == 2
    assert [file] == list((tmp_path / "kept").iterdir())


def test_another_version_of_the_library_is_bundled_anew(
    bundles: list[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    library._bundle()
    monkeypatch.setattr(library, "versions_of", lambda name: {name: "99"})
    library._bundle()
    assert len(bundles) == 2


@pytest.mark.parametrize("nowhere", [True, False])
def test_where_it_can_t_be_kept_it_is_bundled_each_time(
    bundles: list[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch, nowhere: bool
) -> None:
    (tmp_path / "in-the-way").write_text("", encoding="utf-8")
    monkeypatch.setattr(
        library, "_folder", lambda: None if nowhere else tmp_path / "in-the-way" / "kept"
    )
    assert [library._bundle() for _ in range(2)] == ["var ä = 1;"] * 2
    assert len(bundles) == 2
