"""The committed demonstration study, opened once, and its pictures."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.charts.source import Choice, Source, open_source
from rigledger.charts.write import pictures

if TYPE_CHECKING:
    from rigledger.charts.picture import Picture

STUDY = Path(__file__).resolve().parents[2] / "datasets" / "link-width"


@pytest.fixture(scope="session")
def source() -> Source:
    return open_source(STUDY)


@pytest.fixture(scope="session")
def drawn(source: Source) -> dict[str, Picture]:
    return {picture.name: picture for picture in pictures(source)}


@pytest.fixture(scope="session")
def few(source: Source) -> Source:
    choice = Choice("kippereen-deep", "average_fps", "x8-against-x16")
    return Source(source.con, source.design, source.contract, choice)
