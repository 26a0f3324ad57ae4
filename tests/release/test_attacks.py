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


def benchmark(name: str) -> Any:  # noqa: ANN401 - a module of ci/bench
    kept = list(sys.path)
    sys.path.append(str(ROOT / "ci" / "bench"))
    try:
        return importlib.import_module(name)
    finally:
        sys.path[:] = kept


@pytest.fixture(scope="module")
def attack_list() -> Any:  # noqa: ANN401 - a module of ci/bench
    return benchmark("attack_list")


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


def test_an_attack_that_does_not_end_as_stated_is_pointed_out(attack_list: Any) -> None:  # noqa: ANN401
    attacks = benchmark("attacks")
    attack = attack_list.VOUCHED[1]
    missed, named = attacks.Said("as_published", ()), attacks.Said("altered", ("SHA256SUMS.sig",))
    other = attacks.Said("altered", ("a", "b", "c", "d"))
    judged = [
        attacks.wrong(attack, said, alone)
        for said, alone in ((named, missed), (missed, missed), (other, missed), (named, named))
    ]
    assert judged == [
        "", "not caught", "SHA256SUMS.sig is not named",
        "caught without what the list says it needs: state so",
    ]  # fmt: skip
    outcome = attacks.Outcome(other, missed, judged[2])
    assert attacks.line(attack, outcome) == (
        "NOT AS STATED, SHA256SUMS.sig is not named: the signature is gone (with --key)\n"
        "    altered: a, b, c and 1 more; the release alone: as published"
    )
