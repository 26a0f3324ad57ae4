"""What a site shows of each study: its releases as the register lists them, newest first."""

from __future__ import annotations

import json
import os
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from rigledger.contract import load_contract
from rigledger.files import sha256_of
from rigledger.release.errors import ReleaseError
from rigledger.release.folder import DESCRIPTOR, SUMS
from rigledger.release.register import Entry, read_register
from rigledger.study.design import read_design
from rigledger.study.layout import open_study

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import date

    from rigledger.contract.model import Contract

_PLAIN = ("http://", "https://")


@dataclass(frozen=True, slots=True)
class ShownRelease:
    """A release as the site shows it.

    Attributes:
        entry: Its row of the register.
        link: Path of its folder, relative to the site and quoted for a link; None where the
            folder is not there.
        reasons: Why its version is what it is, a sentence each; empty without the folder.
        deposit: Address of its deposit, if the register gives one that is an address.
    """

    entry: Entry
    link: str | None
    reasons: tuple[str, ...]
    deposit: str | None

    @property
    def updated_on(self) -> date:
        """Day of the last thing that the register says of it."""
        return self.entry.retracted_on or self.entry.released_on


@dataclass(frozen=True, slots=True)
class ShownStudy:
    """A study as the site shows it; releases newest first."""

    name: str
    title: str
    question: str
    releases: tuple[ShownRelease, ...]

    @property
    def current(self) -> ShownRelease | None:
        """The release to use: the newest that is not retracted."""
        return next((item for item in self.releases if item.entry.status != "retracted"), None)


def collect(studies: Iterable[Path], site: Path) -> tuple[ShownStudy, ...]:
    """Read the registers of studies.

    Args:
        studies: Folders of studies.
        site: Folder of the site, to which links are relative.

    Returns:
        The studies by name.

    Raises:
        StudyError: A folder is no study, or its design can't be read.
        ReleaseError: A register can't be read or lists nothing, or two studies have one name.
    """
    contract = load_contract()
    shown = sorted((_study(path, site, contract) for path in studies), key=lambda one: one.name)
    for one, other in pairwise(shown):
        if one.name == other.name:
            raise ReleaseError(
                "two of the studies have the same name", value=one.name,
                next_step="name each study's folder once",
            )  # fmt: skip
    return tuple(shown)


def _study(path: Path, site: Path, contract: Contract) -> ShownStudy:
    place = open_study(path)
    design = read_design(place.toml, contract)
    entries = read_register(place.releases)
    if not entries:
        raise ReleaseError(
            "the study has no release yet", file=str(path),
            next_step="publish one with rigledger release, or leave the study out",
        )  # fmt: skip
    folders = _folders(place.root / "releases")
    releases = tuple(_release(item, folders.get(item.fingerprint), site) for item in entries)
    return ShownStudy(design.study, design.title, design.question, releases[::-1])


def _folders(place: Path) -> dict[str, Path]:
    """Find the folders of releases by the fingerprints of what they hold."""
    found = [item.parent for item in sorted(place.glob(f"[!.]*/{SUMS}"))]
    return {sha256_of(folder / SUMS): folder for folder in found}


def _release(entry: Entry, folder: Path | None, site: Path) -> ShownRelease:
    at = entry.deposited_at
    deposit = at if at and at.lower().startswith(_PLAIN) else None
    if folder is None:
        return ShownRelease(entry, None, (), deposit)
    link = quote(Path(os.path.relpath(folder.resolve(), site.resolve())).as_posix())
    return ShownRelease(entry, link, _reasons(folder), deposit)


def _reasons(folder: Path) -> tuple[str, ...]:
    try:
        held: dict[str, Any] = json.loads((folder / DESCRIPTOR).read_text(encoding="utf-8"))
        return tuple(str(text) for text in held["rigledger"]["version_reasons"])
    except (OSError, ValueError, KeyError, TypeError) as error:
        raise ReleaseError(
            f"the release can't be read: {error!r}", file=f"{folder.name}/{DESCRIPTOR}",
            next_step="fetch the release again; rigledger recheck says what differs",
        ) from error  # fmt: skip
