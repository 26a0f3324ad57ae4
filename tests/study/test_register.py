"""Studies that share hardware or titles name rows of one register."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from rigledger.errors import StudyError
from rigledger.study.design import Card, read_design

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


REGISTER = """\
[[cards]]
card = "spare"
model = "Velmar 50"
class = "card"
memory_gb = 8

[[cards]]
card = "secret"
model = "Velmar 99"
class = "card"

[[platforms]]
platform = "p9"
family = "ninth generation"
processor = "Ostrel 20"
board = "Pinnet B9"
memory_kit = "2 x 32 GB, 8000 MT/s"
"""
ASK = '[register]\nfile = "../hardware.toml"\ncards = ["spare"]\n\n[[levels]]'


@pytest.fixture
def shared(write_study: Callable[..., Path]) -> Path:
    path = write_study(("[[levels]]", ASK))
    (path.parent.parent / "hardware.toml").write_text(REGISTER, encoding="utf-8")
    return path


def test_named_rows_are_used_and_a_list_left_out_means_all(shared: Path) -> None:
    design = read_design(shared)
    assert [card.card for card in design.cards] == ["fast", "slow", "spare"]
    assert design.cards[2] == Card("spare", "Velmar 50", "card", 8.0)
    assert [platform.platform for platform in design.platforms] == ["p1", "p9"]


def test_a_row_that_the_register_lacks_is_refused(shared: Path) -> None:
    text = shared.read_text(encoding="utf-8").replace('["spare"]', '["spear"]')
    shared.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match="did you mean 'spare'"):
        read_design(shared)


def test_a_row_that_says_something_else_than_the_register_is_refused(shared: Path) -> None:
    other = '[[cards]]\ncard = "spare"\nmodel = "another"\nclass = "card"\n\n[[workloads]]'
    text = shared.read_text(encoding="utf-8").replace("[[workloads]]", other, 1)
    shared.write_text(text, encoding="utf-8")
    with pytest.raises(StudyError, match=r"differs from the row 'spare' of hardware\.toml"):
        read_design(shared)


def test_a_missing_register_is_named(shared: Path) -> None:
    (shared.parent.parent / "hardware.toml").unlink()
    with pytest.raises(StudyError, match=r"there is no hardware\.toml"):
        read_design(shared)
