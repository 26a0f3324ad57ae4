"""The list of attacks that the docs show is the one that the benchmark carries out."""

from __future__ import annotations

import importlib
import shutil
import sys
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.release.integrity import sums_differences

if TYPE_CHECKING:
    from rigledger.release.write import ReleaseResult

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture(scope="module")
def attack_list() -> Any:  # noqa: ANN401 - a module of ci/bench
    sys.path.append(str(ROOT / "ci" / "bench"))
    try:
        return importlib.import_module("attack_list")
    finally:
        sys.path.remove(str(ROOT / "ci" / "bench"))


def test_the_docs_name_every_attack_and_what_catches_it(attack_list: Any) -> None:  # noqa: ANN401
    page = (ROOT / "pipeline" / "docs" / "trust.md").read_text(encoding="utf-8")
    _, after = page.split("<!-- attacks: written by ci/bench/attack_list.py -->\n")
    assert after.split("<!-- end of attacks -->")[0] == attack_list.table()
    names = [attack.name for attack in attack_list.ATTACKS]
    assert len(names) == len(set(names)) > 50


def test_bits_flipped_without_repair_are_found_by_the_hashes(
    published: ReleaseResult,
    attack_list: Any,  # noqa: ANN401
    tmp_path: Path,
) -> None:
    folder = shutil.copytree(published.folder, tmp_path / "release")
    here = [
        attack
        for attack in attack_list.FLIPPED
        if attack.by_hashes and "captures" not in attack.name
    ]
    for attack in here:
        attack.alter(folder, None)
    altered = [held.file for held in sums_differences(folder) if held.kind == "altered"]
    assert len(altered) == len(here) > 15
