from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from pathlib import Path
    from types import ModuleType


def test_the_last_entry_that_fits_a_cell_counts(planting: ModuleType) -> None:
    entries = (
        planting.Planted("all", "x8", {"average_fps": -1.0}),
        planting.Planted("one", "x8", {"average_fps": -5.0}, platforms=("p1",), cards=("c1", "c2")),
    )
    cells = {
        ("p1", "c1", "x8"): -5.0,
        ("p1", "c3", "x8"): -1.0,
        ("p2", "c1", "x8"): -1.0,
        ("p1", "c1", "x4"): 0.0,
    }
    found = {
        (platform, card, level): planting.planted_change_pct(
            entries, planting.Cell(platform, card, "w", "1920x1080", level), "average_fps"
        )
        for platform, card, level in cells
    }
    assert found == cells


def test_a_misspelt_key_of_the_truth_file_is_refused(planting: ModuleType, tmp_path: Path) -> None:
    path = tmp_path / "truth.toml"
    path.write_text('[[planted]]\nbecause = "x"\nlevel = "x8"\nplatform = ["q1"]\n', "utf-8")
    with pytest.raises(TypeError, match="platform"):
        planting.read_planted(path)
