"""What catalogues want to know of a release, read from its datapackage.json and nowhere else."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping

ADDRESSES = {
    "CC-BY-4.0": "https://creativecommons.org/licenses/by/4.0/",
    "CC-BY-SA-4.0": "https://creativecommons.org/licenses/by-sa/4.0/",
    "CC0-1.0": "https://creativecommons.org/publicdomain/zero/1.0/",
    "ODC-By-1.0": "https://opendatacommons.org/licenses/by/1-0/",
    "PDDL-1.0": "https://opendatacommons.org/licenses/pddl/1-0/",
}
"""Where the text of each licence is: the words of the vocabulary ``licence``."""


@dataclass(frozen=True, slots=True)
class Party:
    """Somebody named in a catalogue: a person or a group, whose name is never split by guessing.

    Attributes:
        name: The name as it is shown.
        orcid: Address of a person's ORCID; None where there is none.
        affiliation: Where they work.
    """

    name: str
    orcid: str | None = None
    affiliation: str | None = None


@dataclass(frozen=True, slots=True)
class Record:
    """A release as a catalogue sees it.

    Attributes:
        name: Name of the study.
        title: Its title.
        description: What the package holds.
        version: Version of the release.
        released_on: Its day, ``2026-11-25``.
        keywords: Words to find it by, each once.
        licences: SPDX names; the first is the study's.
        creators: Its authors.
        collectors: Those who measured.
        identifier: A reserved DOI without a prefix; None where there is none.
        embargo_until: Day before which an archive must not open it.
        files: Its described files: path, media type, bytes, SHA-256, whether it is a CSV table.
    """

    name: str
    title: str
    description: str
    version: str
    released_on: str
    keywords: tuple[str, ...]
    licences: tuple[str, ...]
    creators: tuple[Party, ...]
    collectors: tuple[Party, ...]
    identifier: str | None
    embargo_until: str | None
    files: tuple[DescribedFile, ...]

    @property
    def address(self) -> str | None:
        """Address to which the identifier resolves."""
        return f"https://doi.org/{self.identifier}" if self.identifier else None


@dataclass(frozen=True, slots=True)
class DescribedFile:
    """A file that datapackage.json describes."""

    path: str
    title: str
    mediatype: str
    size: int
    sha256: str
    is_table: bool


def record_of(descriptor: Mapping[str, Any]) -> Record:
    """Read a catalogue's record from the datapackage.json of a release."""
    own = descriptor["rigledger"]
    return Record(
        name=descriptor["name"],
        title=descriptor["title"],
        description=descriptor["description"],
        version=descriptor["version"],
        released_on=descriptor["created"][:10],
        keywords=tuple(dict.fromkeys(descriptor.get("keywords", ()))),
        licences=tuple(item["name"] for item in descriptor["licenses"]),
        creators=_parties(descriptor, "creator"),
        collectors=_parties(descriptor, "dataCollector"),
        identifier=own["identifier"],
        embargo_until=own.get("embargo_until"),
        files=tuple(_file(item) for item in descriptor["resources"]),
    )


def _parties(descriptor: Mapping[str, Any], role: str) -> tuple[Party, ...]:
    return tuple(
        Party(item["title"], item.get("path"), item.get("organization"))
        for item in descriptor["contributors"]
        if role in item["roles"]
    )


def _file(item: Mapping[str, Any]) -> DescribedFile:
    return DescribedFile(
        path=item["path"],
        title=item.get("title", item["path"]),
        mediatype=item["mediatype"],
        size=item["bytes"],
        sha256=item["hash"].removeprefix("sha256:"),
        is_table="schema" in item,
    )
