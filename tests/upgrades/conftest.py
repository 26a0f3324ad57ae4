"""The kept studies, unpacked."""

from __future__ import annotations

import importlib.util
import shutil
import tarfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from rigledger.contract import load_contract
from rigledger.contract.migrations import load_history
from rigledger.files import hashes_below

if TYPE_CHECKING:
    from rigledger.contract import Contract
    from rigledger.contract.migrations import History

HERE = Path(__file__).parent
OLDER = tuple(held.version for held in load_history().versions[:-1])


@dataclass(frozen=True)
class Kept:
    """What a version of the program wrote.

    Attributes:
        contract: The version of the contract.
        folder: Folder of study and kits.
    """

    contract: str
    folder: Path

    @property
    def study(self) -> Path:
        return self.folder / "link-kept"

    @property
    def first(self) -> Path:
        return self.study / "releases" / "link-kept-1.0.0"

    @property
    def release(self) -> Path:
        return self.study / "releases" / "link-kept-1.1.0"

    def hashes(self) -> dict[str, str]:
        return hashes_below(self.folder)


@pytest.fixture(scope="session")
def contract() -> Contract:
    return load_contract()


@pytest.fixture(scope="session")
def history() -> History:
    return load_history()


@pytest.fixture
def listed(contract: Contract) -> tuple[str, str]:
    """The listing of the contract as it is, and as it was kept."""
    spec = importlib.util.spec_from_file_location("listing", HERE / "listing.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.listing(contract), module.NEWEST.read_text(encoding="utf-8")


@pytest.fixture(scope="session", params=OLDER)
def kept(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Kept:
    """Each kept study; tests that write take a copy."""
    folder = tmp_path_factory.mktemp("kept")
    with tarfile.open(HERE / request.param / "kept.tar.xz") as packed:
        packed.extractall(folder, filter="data")
    return Kept(request.param, folder)


@pytest.fixture
def copy(kept: Kept, tmp_path: Path) -> Kept:
    """A copy of a kept study that a test may write in."""
    return Kept(kept.contract, shutil.copytree(kept.folder, tmp_path / "kept"))


@pytest.fixture(scope="module")
def used(kept: Kept, tmp_path_factory: pytest.TempPathFactory) -> Kept:
    """A copy in which command after command works, as in a study of one's own."""
    folder = tmp_path_factory.mktemp("used") / "kept"
    return Kept(kept.contract, shutil.copytree(kept.folder, folder))
