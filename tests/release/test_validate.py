"""What frictionless is given of a release: all of it but what the program ships itself."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING, Any

import pytest

from rigledger.files import sha256_of
from rigledger.release.validate import MadePackage, frictionless_problems
from rigledger.remembered import Remembered

if TYPE_CHECKING:
    from pathlib import Path

    from rigledger.release.write import ReleaseResult

SCHEMA = "schema/tables/source/runs.json"


@pytest.fixture
def part(published: ReleaseResult, tmp_path: Path) -> tuple[Path, dict[str, Any]]:
    """Give a folder with one schema of a release, and its description."""
    described = json.loads((published.folder / "datapackage.json").read_text(encoding="utf-8"))
    resource = next(held for held in described["resources"] if held["path"] == SCHEMA)
    (tmp_path / SCHEMA).parent.mkdir(parents=True)
    shutil.copyfile(published.folder / SCHEMA, tmp_path / SCHEMA)
    return tmp_path, described | {"resources": [resource]}


def test_the_contract_s_own_files_are_not_judged_again_in_each_release(
    part: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    folder, descriptor = part
    (folder / SCHEMA).write_text('{"fields": 1}', encoding="utf-8")
    assert frictionless_problems(MadePackage(folder, descriptor, tmp_path), Remembered()) == []


def test_a_file_in_place_of_one_of_the_contract_is_judged(
    part: tuple[Path, dict[str, Any]], tmp_path: Path
) -> None:
    folder, descriptor = part
    (folder / SCHEMA).write_text('{"fields": 1}', encoding="utf-8")
    stated = {
        "hash": f"sha256:{sha256_of(folder / SCHEMA)}",
        "bytes": (folder / SCHEMA).stat().st_size,
    }
    changed = descriptor | {"resources": [descriptor["resources"][0] | stated]}
    assert frictionless_problems(MadePackage(folder, changed, tmp_path), Remembered()) != []
