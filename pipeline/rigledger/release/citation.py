"""How a release is cited and licensed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

from rigledger.release.errors import ReleaseError
from rigledger.release.record import ADDRESSES, record_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from rigledger.release.record import Party
    from rigledger.release.view import ReleaseView

# The vendored schema of the Citation File Format 1.2.0; vendor/README.md says where it is from.
_SCHEMA = Path(__file__).parent / "vendor" / "citation-file-format-1.2.0.json"


def citation(descriptor: Mapping[str, Any], descriptor_sha256: str) -> dict[str, Any]:
    """Give what CITATION.cff says, as values.

    Args:
        descriptor: The release's datapackage.json.
        descriptor_sha256: Hash of that file, by which the bytes can be told.
    """
    record = record_of(descriptor)
    held: dict[str, Any] = {
        "cff-version": "1.2.0",
        "message": "If you use these data, please cite them as below.",
        "type": "dataset",
        "title": record.title,
        "abstract": record.description,
        "authors": [_author(party) for party in record.creators],
        "version": record.version,
        "date-released": record.released_on,
        "license": list(record.licences),
        "identifiers": [_hash_identifier(descriptor_sha256)],
    }
    if record.keywords:
        held["keywords"] = list(record.keywords)
    if record.identifier:
        held["doi"] = record.identifier
    return held


def _author(party: Party) -> dict[str, str]:
    """Give an author as an entity: a name is never split into parts by guessing."""
    return {"name": party.name} | ({"orcid": party.orcid} if party.orcid else {})


def _hash_identifier(sha256: str) -> dict[str, str]:
    return {
        "type": "other",
        "value": f"sha256:{sha256}",
        "description": "SHA-256 of the release's datapackage.json",
    }


def citation_text(descriptor: Mapping[str, Any], descriptor_sha256: str) -> str:
    """Write CITATION.cff: YAML whose values are written as JSON, which YAML 1.2 contains.

    Raises:
        ReleaseError: The Citation File Format refuses it.
    """
    held = citation(descriptor, descriptor_sha256)
    errors = citation_errors(held)
    if errors:
        raise ReleaseError(
            f"the citation would not be valid: {errors[0]}", file="CITATION.cff",
            next_step="correct title, authors, keywords, licence (study.toml), or the identifier",
        )  # fmt: skip
    lines = (f"{key}: {json.dumps(value, ensure_ascii=False)}\n" for key, value in held.items())
    return "".join(lines)


def citation_errors(held: dict[str, Any]) -> list[str]:
    """Hold a citation against the schema of the Citation File Format 1.2.0."""
    import jsonschema

    schema = json.loads(_SCHEMA.read_text(encoding="utf-8"))
    errors = jsonschema.Draft7Validator(schema).iter_errors(held)
    return [f"{'/'.join(map(str, error.absolute_path))}: {error.message}" for error in errors]


def cite_as(view: ReleaseView) -> str:
    """Give the sentence by which the release is cited."""
    names = "; ".join(author.name for author in view.design.authors)
    year = view.meta.released_on.year
    place = f" https://doi.org/{view.meta.identifier}" if view.meta.identifier else ""
    title = f"{view.design.title} (version {view.meta.version}) [data set]."
    return f"{names} ({year}): {title}{place}".strip()


def licence_text(view: ReleaseView) -> str:
    """Write LICENSE: which licence the numbers have, and where its text is."""
    terms = view.contract.vocabularies["licence"].terms
    rows = view.rows("SELECT set_id, licence FROM sets WHERE state = 'admitted' ORDER BY set_id")
    apart = [row for row in rows if row["licence"] != view.design.licence]
    lines = [
        f"{view.design.title}, version {view.meta.version}",
        "",
        f"The data of this release are licensed under {terms[view.design.licence]}",
        f"({view.design.licence}): {ADDRESSES[view.design.licence]}",
    ]
    if apart:
        lines += ["", "The rows of these result sets have a licence of their own:"]
        lines += [f"  {r['set_id']}: {r['licence']}, {ADDRESSES[r['licence']]}" for r in apart]
    return "\n".join(lines) + "\n"
