"""Where the parts of a study lie on disk."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rigledger.contract.migrations import load_history
from rigledger.errors import StudyError

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True)
class StudyFolder:
    """A study's folder and the places in it; only ``toml`` has to exist."""

    root: Path

    @property
    def toml(self) -> Path:
        """The design."""
        return self.root / "study.toml"

    @property
    def sets(self) -> Path:
        """Folder of the admitted sets, one folder each, as handed in."""
        return self.root / "sets"

    @property
    def captures(self) -> Path:
        """Folder of the captures, one Parquet file each, named by hash."""
        return self.root / "captures"

    @property
    def decisions(self) -> Path:
        """What was decided on each set."""
        return self.root / "decisions.toml"

    @property
    def corrections(self) -> Path:
        """Declared corrections."""
        return self.root / "corrections.toml"

    @property
    def claims(self) -> Path:
        """The review's sentences as checkable claims."""
        return self.root / "claims.toml"

    @property
    def releases(self) -> Path:
        """The register of releases."""
        return self.root / "releases.toml"

    @property
    def lock(self) -> Path:
        """Lock file that one writer at a time holds."""
        return self.root / ".lock"

    @property
    def holder(self) -> Path:
        """Note of who holds the lock; one that nobody holds says that a writer was stopped."""
        return self.root / ".lock.json"

    @property
    def derived(self) -> Path:
        """Folder of the derived tables, unless another is named."""
        return self.root / "derived"

    @property
    def published(self) -> Path:
        """Folder of the releases, unless another is named."""
        return self.root / "releases"

    @property
    def kept(self) -> Path:
        """Folder of what is kept so that it is not computed again."""
        return self.root / ".rigledger"

    def set_folder(self, set_id: str) -> Path:
        """Give the folder of an admitted set."""
        return self.sets / set_id


def open_study(root: Path) -> StudyFolder:
    """Open a study.

    Args:
        root: Its folder, or its study.toml.

    Raises:
        StudyError: There is no study.toml.
        NewerContractError: A release of it was written by a newer contract than this program knows.
    """
    folder = StudyFolder(root.parent if root.name == "study.toml" else root)
    if not folder.toml.is_file():
        raise StudyError(
            "is no study: it holds no study.toml",
            file=str(root),
            next_step="name the folder that holds the study's study.toml",
        )
    _refuse_newer(folder)
    return folder


def _refuse_newer(folder: StudyFolder) -> None:
    """Refuse a study of which a newer program released: its files may say more than this one reads.

    A register that can't be read is passed over; whoever needs it says what is wrong with it.
    """
    try:
        held = tomllib.loads(folder.releases.read_text(encoding="utf-8"))
        stated = {str(block["contract"]) for block in held["release"] if "contract" in block}
    except (OSError, ValueError, KeyError, TypeError):
        return
    for version in sorted(stated):
        load_history().refuse_newer(version, file=folder.releases.name)
