"""Checks of several sets in one study read each of the other sets once."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from rigledger.intake import admitted
from rigledger.intake.check import check_set

if TYPE_CHECKING:
    import pytest

    from rigledger.contract import Contract

DEMO = Path(__file__).resolve().parents[2] / "datasets" / "link-width"


def test_sets_checked_together_are_judged_as_each_alone_and_read_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    sets = sorted((DEMO / "sets").iterdir())[:2]
    alone = [check_set(folder, DEMO) for folder in sets]
    read = []
    make = admitted.make_extract

    def noted(folder: Path, into: Path, contract: Contract) -> None:
        read.append(folder.name)
        make(folder, into, contract)

    monkeypatch.setattr(admitted, "make_extract", noted)
    assert [check_set(folder, DEMO, shared=tmp_path) for folder in sets] == alone
    assert len(read) == len(set(read))
    assert {folder.name for folder in sets} < set(read)
