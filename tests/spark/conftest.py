"""A small study whose runs have captures, of which some runs take a window."""

from __future__ import annotations

import importlib
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract

if TYPE_CHECKING:
    from types import ModuleType

    from rigledger.contract import Contract

BENCH = Path(__file__).resolve().parents[2] / "ci" / "bench"


@pytest.fixture(scope="session")
def contract() -> Contract:
    return load_contract()


@pytest.fixture(scope="module")
def generated(tmp_path_factory: pytest.TempPathFactory, contract: Contract):  # noqa: ANN201 - of a script
    """192 runs of one rig, each with a capture: of 300 frames, two of 6,000; with their metrics."""
    study = _script("spark_study").captured_study(
        tmp_path_factory.mktemp("generated") / "captures", contract, rigs=1, frames=300
    )
    study.recompute()
    yield study
    study.con.close()


def _script(name: str) -> ModuleType:
    with pytest.MonkeyPatch.context() as patch:
        patch.syspath_prepend(str(BENCH))
        return importlib.import_module(name)
