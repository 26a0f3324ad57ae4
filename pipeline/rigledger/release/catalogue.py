"""Metadata for search engines and archives: schema.org JSON-LD, RO-Crate 1.1, .zenodo.json."""

from __future__ import annotations

import html
from typing import TYPE_CHECKING, Any

from rigledger.release.describe import json_text
from rigledger.release.folder import CRATE, DESCRIPTOR
from rigledger.release.record import ADDRESSES, record_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.release.record import DescribedFile, Party, Record


def dataset_jsonld(descriptor: Mapping[str, Any], descriptor_sha256: str) -> dict[str, Any]:
    """Give the release as a schema.org Dataset, for the page.

    Args:
        descriptor: Its datapackage.json.
        descriptor_sha256: Hash of that file, by which the bytes can be told.

    Returns:
        JSON-LD; https://schema.org/Dataset names its properties.
    """
    record = record_of(descriptor)
    tables = [item for item in record.files if item.is_table]
    return {
        "@context": "https://schema.org/",
        "@type": "Dataset",
        **_about(record),
        "license": [ADDRESSES[name] for name in record.licences],
        "creator": [_agent(party) for party in record.creators],
        "contributor": [_agent(party) for party in record.collectors],
        "isAccessibleForFree": True,
        "identifier": [
            *([record.address] if record.address else []),
            {
                "@type": "PropertyValue",
                "propertyID": f"SHA-256 of {DESCRIPTOR}",
                "value": descriptor_sha256,
            },
        ],
        "distribution": [_download(item) for item in tables],
    }


def _about(record: Record) -> dict[str, Any]:
    held = {
        "name": record.title,
        "description": record.description,
        "version": record.version,
        "datePublished": record.released_on,
        "keywords": list(record.keywords),
        "conditionsOfAccess": record.embargo_until and f"closed until {record.embargo_until}",
    }
    return {key: value for key, value in held.items() if value}


def _agent(party: Party) -> dict[str, Any]:
    """Give a party as schema.org has it: with an ORCID a person, else an organisation.

    A bare name doesn't say which of the two it is; the Citation File Format calls it an entity.
    """
    held: dict[str, Any] = {"@type": "Person" if party.orcid else "Organization"}
    held |= {"@id": party.orcid} if party.orcid else {}
    held["name"] = party.name
    if party.affiliation:
        held["affiliation"] = {"@type": "Organization", "name": party.affiliation}
    return held


def _download(item: DescribedFile) -> dict[str, Any]:
    return {
        "@type": "DataDownload",
        "name": item.title,
        "contentUrl": item.path,
        "encodingFormat": item.mediatype,
        "contentSize": str(item.size),
        "sha256": item.sha256,
    }


def crate_text(descriptor: Mapping[str, Any], descriptor_sha256: str, size: int) -> str:
    """Write ro-crate-metadata.json, RO-Crate 1.1 (https://w3id.org/ro/crate/1.1).

    Args:
        descriptor: The release's datapackage.json.
        descriptor_sha256: Hash of that file.
        size: Its bytes.
    """
    record = record_of(descriptor)
    files = [
        _part(DESCRIPTOR, "Data Package descriptor", "application/json", size, descriptor_sha256),
        *(_part(f.path, f.title, f.mediatype, f.size, f.sha256) for f in record.files),
    ]
    agents = {
        id_: entity
        for group, parties in (("creator", record.creators), ("collector", record.collectors))
        for id_, entity in _agents(group, parties).items()
    }
    licences = [
        {"@id": ADDRESSES[name], "@type": "CreativeWork", "name": name} for name in record.licences
    ]
    root = _root(record, files)
    graph = [_CRATE_ITSELF, root, *files, *agents.values(), *licences]
    return json_text({"@context": "https://w3id.org/ro/crate/1.1/context", "@graph": graph})


_CRATE_ITSELF = {
    "@id": CRATE,
    "@type": "CreativeWork",
    "conformsTo": {"@id": "https://w3id.org/ro/crate/1.1"},
    "about": {"@id": "./"},
}


def _root(record: Record, files: list[dict[str, Any]]) -> dict[str, Any]:
    creators = _agents("creator", record.creators)
    collectors = _agents("collector", record.collectors)
    return {
        "@id": "./",
        "@type": "Dataset",
        **_about(record),
        **({"identifier": record.address} if record.address else {}),
        "license": [{"@id": ADDRESSES[name]} for name in record.licences],
        "creator": [{"@id": id_} for id_ in creators],
        "contributor": [{"@id": id_} for id_ in collectors],
        "hasPart": [{"@id": item["@id"]} for item in files],
    }


def _agents(group: str, parties: tuple[Party, ...]) -> dict[str, dict[str, Any]]:
    """Give parties as entities of the crate by their ids: an ORCID, or a place in the list."""
    held = {}
    for number, party in enumerate(parties, start=1):
        id_ = party.orcid or f"#{group}-{number}"
        entity = _agent(party) | {"@id": id_}
        if party.affiliation:
            entity["affiliation"] = party.affiliation
        held[id_] = entity
    return held


def _part(path: str, title: str, mediatype: str, size: int, sha256: str) -> dict[str, Any]:
    return {
        "@id": path,
        "@type": "File",
        "name": title,
        "encodingFormat": mediatype,
        "contentSize": str(size),
        "sha256": sha256,
    }


def deposit_text(descriptor: Mapping[str, Any]) -> str:
    """Write .zenodo.json, the deposit's description as that archive reads it."""
    record = record_of(descriptor)
    held = {
        "title": record.title,
        "upload_type": "dataset",
        # The archive shows it as HTML.
        "description": html.escape(record.description),
        "version": record.version,
        "publication_date": record.released_on,
        **_access(record),
        "license": record.licences[0].lower(),
        "creators": [_creator(party) for party in record.creators],
        "contributors": [
            {"name": party.name, "type": "DataCollector"} for party in record.collectors
        ],
        "keywords": list(record.keywords),
    }
    return json_text({key: value for key, value in held.items() if value})


def _access(record: Record) -> dict[str, str]:
    reserved = {"doi": record.identifier} if record.identifier else {}
    if record.embargo_until:
        return reserved | {"access_right": "embargoed", "embargo_date": record.embargo_until}
    return reserved | {"access_right": "open"}


def _creator(party: Party) -> dict[str, str]:
    held = {"name": party.name}
    if party.orcid:
        held["orcid"] = party.orcid.rsplit("/", 1)[-1]
    if party.affiliation:
        held["affiliation"] = party.affiliation
    return held
