"""Every set of both studies passes the intake that any other contributor's set meets."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from rigledger.intake.check import check_set

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize(
    ("study", "set_id"),
    [
        ("link-width", "bench.autumn-ostrevik"),
        ("link-width", "bench.autumn-hurlen"),
        ("link-width", "maren.first"),
        ("driver-threading", "house.rig-a"),
        ("driver-threading", "house.rig-c-old-driver"),
        ("driver-threading", "house.rig-c-new-driver"),
    ],
)
def test_a_set_as_handed_in_is_accepted_with_remarks(
    datasets: Path, tmp_path: Path, study: str, set_id: str
) -> None:
    handed = tmp_path / set_id
    shutil.copytree(datasets / study / "sets" / set_id, handed)
    (handed / "SHA256SUMS").unlink()  # it was added at admission
    before_any_set = tmp_path / "study"
    before_any_set.mkdir()
    shutil.copy(datasets / study / "study.toml", before_any_set)
    result = check_set(handed, before_any_set)
    assert (result.verdict, result.set_id) == ("accepted_with_remarks", set_id)
    assert [item for item in result.findings if item.severity == "error"] == []
